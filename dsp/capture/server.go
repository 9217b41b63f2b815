package capture

import (
	"cmp"
	"errors"
	"fmt"
	"net"
	"strings"

	"github.com/jfreymuth/pulse/proto"

	"rundown/dsp/wavio"
)

// server is a connection to the sound server.
type server struct {
	*proto.Client
	conn net.Conn
}

// dial connects to the server. The error wraps errAbsent where there is none.
func dial() (*server, error) {
	c, conn, err := proto.Connect("")
	if err != nil {
		return nil, fmt.Errorf("the sound server %w (%v)", errAbsent, err)
	}
	s := &server{c, conn}
	name := proto.PropList{"application.name": proto.PropListString("rundown")}
	if err := c.Request(&proto.SetClientName{Props: name}, &proto.SetClientNameReply{}); err != nil {
		conn.Close()
		return nil, fmt.Errorf("the sound server refuses: %w", err)
	}
	return s, nil
}

// source finds a device by its name, or the default one.
func (s *server) source(name string) (*proto.GetSourceInfoReply, error) {
	info := new(proto.GetSourceInfoReply)
	if name == "" {
		name = "@DEFAULT_SOURCE@"
	}
	err := s.Request(&proto.GetSourceInfo{SourceIndex: proto.Undefined, SourceName: name}, info)
	if errors.Is(err, proto.ErrNoSuchEntity) {
		if name == "@DEFAULT_SOURCE@" {
			return nil, errors.New("the sound server has no microphone: plug one in, or choose one with --device")
		}
		return nil, fmt.Errorf("the sound server has no device %q: see --devices", name)
	}
	return info, err
}

// The numbers of PulseAudio's protocol for samples of 16 and of 24 bits, little
// endian, and for a device that is hardware.
const (
	formatInt16, formatInt24 = proto.FormatInt16LE, 9
	flagHardware             = 4
)

// fragments is how many packets a second the server sends.
const fragments = 10

// openServer records through the sound server.
func openServer(set Settings) (*Input, error) {
	s, err := dial()
	if err != nil {
		return nil, err
	}
	in, err := s.record(set)
	if err != nil {
		s.conn.Close()
		return nil, err
	}
	return in, nil
}

func (s *server) record(set Settings) (*Input, error) {
	info, err := s.source(set.Device)
	if err != nil {
		return nil, err
	}
	f := set.format(int(info.Rate), int(info.Channels))
	q, err := newDeviceQueue(f)
	if err != nil {
		return nil, err
	}
	s.Callback = func(message any) { s.hear(q, message) }
	var made proto.CreateRecordStreamReply
	if err := s.Request(request(info.SourceName, f), &made); err != nil {
		return nil, fmt.Errorf("the sound server gives no sound of %s: %w", info.SourceName, err)
	}
	in, err := newInput(q)
	if err != nil {
		return nil, err
	}
	in.About = fmt.Sprintf("%s, by the sound server", cmp.Or(info.Device, info.SourceName))
	in.Note = rawness(info)
	in.close = func() error {
		q.end(net.ErrClosed)
		return s.conn.Close()
	}
	return in, nil
}

// request asks for the sound of a device as it is: no effects, and never that of
// another device. Its volumes are left as they are.
func request(name string, f wavio.Format) *proto.CreateRecordStream {
	r := &proto.CreateRecordStream{
		SampleSpec:  proto.SampleSpec{Format: formatInt16, Channels: byte(f.Channels), Rate: uint32(f.SampleRate)},
		ChannelMap:  proto.ChannelMap{proto.ChannelMono},
		SourceIndex: proto.Undefined, SourceName: name,
		BufferMaxLength: proto.Undefined, BufferFragSize: uint32(f.SampleRate / fragments * f.Channels * f.BitsPerSample / 8),
		NoMove: true, AdjustLatency: true, DirectOnInputIndex: proto.Undefined,
		Properties: proto.PropList{
			"media.name":      proto.PropListString("recording"),
			"media.role":      proto.PropListString("production"),
			"filter.suppress": proto.PropListString("echo-cancel noise-suppression"),
		},
	}
	if f.BitsPerSample == 24 {
		r.Format = formatInt24
	}
	if f.Channels > 1 {
		r.ChannelMap = r.ChannelMap[:0]
		for c := range f.Channels {
			r.ChannelMap = append(r.ChannelMap, byte(proto.ChannelLeft+c))
		}
	}
	r.ChannelVolumes = make(proto.ChannelVolumes, f.Channels)
	return r
}

// hear takes what the server sends.
func (s *server) hear(q *queue, message any) {
	switch m := message.(type) {
	case *proto.DataPacket:
		q.Write(m.Data)
	case *proto.RecordStreamKilled:
		q.end(errors.New("the sound server took the device away"))
	case *proto.ConnectionClosed:
		q.end(errors.New("the sound server ended"))
	}
}

// rawness says what is known of what the sound of a device went through.
func rawness(info *proto.GetSourceInfoReply) string {
	about := strings.ToLower(strings.Join([]string{info.SourceName, info.Device, info.Driver}, " "))
	for _, word := range []string{"echo", "rnnoise", "noise", "denois", "webrtc"} {
		if strings.Contains(about, word) {
			return fmt.Sprintf("%s seems to take noise or echoes out, and ticks with them: choose the microphone itself with --device", info.SourceName)
		}
	}
	switch {
	case strings.Contains(about, "bluez"):
		return fmt.Sprintf("%s is wireless, which changes the sound and may lose some: choose one with a cable", info.SourceName)
	case info.Flags&flagHardware == 0:
		return fmt.Sprintf("%s is no microphone by itself but made by the sound server: what it does to the sound cannot be told", info.SourceName)
	}
	return "The sound server gives the microphone as it is; whether the microphone itself takes noise out cannot be told"
}

// Device is a microphone, or another source of sound.
type Device struct {
	Name    string // for Settings.Device
	About   string
	Default bool
}

// serverDevices lists the devices that the sound server has, what it plays
// included.
func serverDevices() ([]Device, error) {
	s, err := dial()
	if err != nil {
		return nil, err
	}
	defer s.conn.Close()
	s.Callback = func(any) {}
	var infos proto.GetSourceInfoListReply
	if err := s.Request(&proto.GetSourceInfoList{}, &infos); err != nil {
		return nil, fmt.Errorf("the sound server does not tell its devices: %w", err)
	}
	usual, _ := s.source("") // none is no fault of the list
	var out []Device
	for _, i := range infos {
		out = append(out, Device{i.SourceName, i.Device, usual != nil && usual.SourceName == i.SourceName})
	}
	return out, nil
}
