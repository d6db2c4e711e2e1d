package rpc

import (
	"context"

	"connectrpc.com/connect"

	"plumbline/node"
	v1 "plumbline/proto/plumbline/v1"
)

// staff serves how laptops join and leave.
type staff struct {
	node Node
	streams
}

func (s *staff) Found(ctx context.Context, req *v1.FoundRequest) (*v1.FoundResponse, error) {
	root, id, err := s.node.Found(ctx, req.GetStaff(), req.GetPerson(), req.GetDevice())
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.FoundResponse{Root: root, Staff: text(id)}, nil
}

func (s *staff) Invite(ctx context.Context, req *v1.InviteRequest, stream *connect.ServerStream[v1.InviteResponse]) error {
	ctx, done := s.bound(ctx)
	defer done()
	show := func(step node.PairingStep) error { return stream.Send(inviteStepTo(step)) }
	if req.GetRecovery() {
		return toWire(s.node.InviteByRoot(ctx, show))
	}
	return toWire(s.node.Invite(ctx, req.GetPerson(), req.GetTitle(), req.GetDirector(), show))
}

func (s *staff) Join(ctx context.Context, req *v1.JoinRequest, stream *connect.ServerStream[v1.JoinResponse]) error {
	ctx, done := s.bound(ctx)
	defer done()
	q := node.JoinRequest{Address: req.GetAddress(), Word: req.GetWord(), Device: req.GetDevice(), TakeAlong: req.GetTakeAlong()}
	return toWire(s.node.Join(ctx, q, func(step node.PairingStep) error { return stream.Send(joinStepTo(step)) }))
}

func (s *staff) Alone(ctx context.Context, _ *v1.AloneRequest) (*v1.AloneResponse, error) {
	alone, err := s.node.Alone(ctx)
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.AloneResponse{Alone: aloneTo(&alone)}, nil
}

func (s *staff) Recover(ctx context.Context, req *v1.RecoverRequest, stream *connect.ServerStream[v1.RecoverResponse]) error {
	ctx, done := s.bound(ctx)
	defer done()
	r := node.Recovery{Address: req.GetAddress(), Word: req.GetWord(), Device: req.GetDevice(), Person: req.GetPerson(), Lost: req.GetLost()}
	return toWire(s.node.Recover(ctx, r, func(step node.PairingStep) error { return stream.Send(recoverStepTo(step)) }))
}

func (s *staff) Root(_ context.Context, req *v1.RootRequest) (*v1.RootResponse, error) {
	if err := s.node.Root(req.GetPairing(), req.GetRoot()); err != nil {
		return nil, toWire(err)
	}
	return &v1.RootResponse{}, nil
}

func (s *staff) Answer(_ context.Context, req *v1.AnswerRequest) (*v1.AnswerResponse, error) {
	if err := s.node.Answer(req.GetPairing(), req.GetCode()); err != nil {
		return nil, toWire(err)
	}
	return &v1.AnswerResponse{}, nil
}

func (s *staff) Promote(ctx context.Context, req *v1.PromoteRequest) (*v1.PromoteResponse, error) {
	devices, err := s.node.Promote(ctx, req.GetWho())
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.PromoteResponse{Devices: texts(devices)}, nil
}

func (s *staff) Revoke(ctx context.Context, req *v1.RevokeRequest) (*v1.RevokeResponse, error) {
	devices, err := s.node.Revoke(ctx, req.GetWho(), req.GetDemote())
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.RevokeResponse{Devices: texts(devices)}, nil
}

func (s *staff) Accept(ctx context.Context, req *v1.AcceptRequest) (*v1.AcceptResponse, error) {
	accept := s.node.Accept
	if req.GetDryRun() {
		accept = s.node.Acceptable
	}
	a, err := accept(ctx, req.GetWho(), req.GetAsOf(), req.GetRights())
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.AcceptResponse{Devices: texts(a.Devices), Rights: a.Rights}, nil
}

func (s *staff) Roster(ctx context.Context, _ *v1.RosterRequest) (*v1.RosterResponse, error) {
	members, err := s.node.Roster(ctx)
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.RosterResponse{Members: each(members, memberTo)}, nil
}
