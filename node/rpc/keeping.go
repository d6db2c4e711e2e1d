package rpc

import (
	"context"
	"strings"

	"connectrpc.com/connect"

	v1 "plumbline/proto/plumbline/v1"
)

// keeping serves what keeps one laptop.
type keeping struct {
	node Node
	streams
}

func (s *keeping) Status(ctx context.Context, _ *v1.StatusRequest) (*v1.StatusResponse, error) {
	status, err := s.node.Status(ctx)
	if err != nil {
		return nil, toWire(err)
	}
	return statusTo(status), nil
}

func (s *keeping) Verify(ctx context.Context, _ *v1.VerifyRequest, stream *connect.ServerStream[v1.VerifyResponse]) error {
	ctx, done := s.bound(ctx)
	defer done()
	var last v1.VerifyResponse
	verified, err := s.node.Verify(ctx, func(made, total uint64) {
		last.Done, last.Total = count(made), count(total)
		if stream.Send(&v1.VerifyResponse{Done: last.Done, Total: last.Total}) != nil {
			done() // nobody listens any more
		}
	})
	if err != nil {
		return toWire(err)
	}
	status, err := s.node.Status(ctx)
	if err != nil {
		return toWire(err)
	}
	return stream.Send(&v1.VerifyResponse{
		Done: last.Done, Total: last.Total, Faults: readable(verified.Faults), Mended: readable(verified.Mended), Finished: true, StateHash: status.StateHash.String(),
	})
}

func (s *keeping) Backup(ctx context.Context, req *v1.BackupRequest) (*v1.BackupResponse, error) {
	bytes, entries, err := s.node.Backup(ctx, req.GetPath())
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.BackupResponse{Bytes: uint64(max(bytes, 0)), Entries: count(entries)}, nil
}

func (s *keeping) Connect(ctx context.Context, req *v1.ConnectRequest) (*v1.ConnectResponse, error) {
	if err := s.node.Connect(ctx, req.GetAddress()); err != nil {
		return nil, toWire(err)
	}
	return &v1.ConnectResponse{}, nil
}

func (k *keeping) Acknowledge(ctx context.Context, _ *v1.AcknowledgeRequest) (*v1.AcknowledgeResponse, error) {
	if err := k.node.Acknowledge(ctx); err != nil {
		return nil, toWire(err)
	}
	return &v1.AcknowledgeResponse{}, nil
}

// readable takes out what isn't text: sentences may quote what is damaged.
func readable(sentences []string) []string {
	return each(sentences, func(s string) string { return strings.ToValidUTF8(s, "?") })
}
