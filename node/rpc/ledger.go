package rpc

import (
	"context"

	"connectrpc.com/connect"

	"plumbline/node"
	"plumbline/node/prose"
	v1 "plumbline/proto/plumbline/v1"
)

// ledger serves what reads and writes records.
type ledger struct {
	node Node
	streams
}

func (s *ledger) Write(ctx context.Context, req *v1.WriteRequest) (*v1.WriteResponse, error) {
	ids, err := s.node.Write(ctx, each(req.GetWrites(), writeFrom))
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.WriteResponse{Records: texts(ids)}, nil
}

func (s *ledger) Check(ctx context.Context, req *v1.CheckRequest) (*v1.CheckResponse, error) {
	fields, err := s.node.Check(ctx, writeFrom(req.GetWrite()))
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.CheckResponse{Fields: each(fields, checkedTo)}, nil
}

func (s *ledger) Get(ctx context.Context, req *v1.GetRequest) (*v1.GetResponse, error) {
	detail, err := s.node.Get(ctx, req.GetRecord(), req.GetHidden(), req.GetSince())
	if err != nil {
		return nil, toWire(err)
	}
	return detailTo(detail)
}

func (s *ledger) List(ctx context.Context, req *v1.ListRequest) (*v1.ListResponse, error) {
	listing, err := s.node.List(ctx, listQueryFrom(req))
	if err != nil {
		return nil, toWire(err)
	}
	return listingTo(listing, req.GetTextsOnly())
}

func (s *ledger) History(ctx context.Context, req *v1.HistoryRequest) (*v1.HistoryResponse, error) {
	revisions, err := s.node.History(ctx, req.GetRecord())
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.HistoryResponse{Revisions: each(revisions, revisionTo)}, nil
}

func (s *ledger) Conflicts(ctx context.Context, req *v1.ConflictsRequest) (*v1.ConflictsResponse, error) {
	conflicts, err := s.node.Conflicts(ctx, req.GetRecord())
	if err != nil {
		return nil, toWire(err)
	}
	return conflictsTo(conflicts)
}

func (s *ledger) Settle(ctx context.Context, req *v1.SettleRequest) (*v1.SettleResponse, error) {
	record, err := wireRecord(s.node.Settle(ctx, settlementFrom(req)))
	if err != nil {
		return nil, err
	}
	return &v1.SettleResponse{Record: record}, nil
}

func (*ledger) Merge(_ context.Context, req *v1.MergeRequest) (*v1.MergeResponse, error) {
	parts := prose.Compare
	if req.Ancestor != nil {
		parts = func(texts []string) []prose.Part { return prose.Merge(req.GetAncestor(), texts) }
	}
	return &v1.MergeResponse{Parts: each(parts(req.GetTexts()), partTo)}, nil
}

func (s *ledger) File(ctx context.Context, req *v1.FileRequest) (*v1.FileResponse, error) {
	record, err := wireRecord(s.node.File(ctx, req.GetEvaluation(), req.GetSeen()...))
	if err != nil {
		return nil, err
	}
	return &v1.FileResponse{Record: record}, nil
}

func (s *ledger) Retire(ctx context.Context, req *v1.RetireRequest) (*v1.RetireResponse, error) {
	retired, err := s.node.Retire(ctx, req.GetRecord(), req.GetAsOf())
	if err != nil {
		return nil, toWire(err)
	}
	record, err := recordTo(retired.Record)
	return &v1.RetireResponse{Record: record, Unread: unreadTo(retired.Unread)}, err
}

func (s *ledger) Keep(ctx context.Context, req *v1.KeepRequest) (*v1.KeepResponse, error) {
	record, err := wireRecord(s.node.Keep(ctx, req.GetRecord(), req.GetAsOf()))
	if err != nil {
		return nil, err
	}
	return &v1.KeepResponse{Record: record}, nil
}

func (s *ledger) Same(ctx context.Context, req *v1.SameRequest) (*v1.SameResponse, error) {
	same, err := s.node.Same(ctx, req.GetFirst(), req.GetSecond(), req.GetApart(), req.GetSeen()...)
	if err != nil {
		return nil, toWire(err)
	}
	return sameTo(same)
}

func (s *ledger) Doubles(ctx context.Context, _ *v1.DoublesRequest) (*v1.DoublesResponse, error) {
	doubles, err := s.node.Doubles(ctx)
	if err != nil {
		return nil, toWire(err)
	}
	return doublesTo(doubles)
}

func (s *ledger) Outline(_ context.Context, req *v1.OutlineRequest) (*v1.OutlineResponse, error) {
	outline, err := s.node.Outline(node.ImportRequest{Kind: req.GetKind(), Data: req.GetData(), File: req.GetFile(), Sheet: req.GetSheet()})
	if err != nil {
		return nil, toWire(err)
	}
	return outlineTo(outline), nil
}

func (s *ledger) Import(ctx context.Context, req *v1.ImportRequest) (*v1.ImportResponse, error) {
	report, err := s.node.Import(ctx, importFrom(req))
	if err != nil {
		return nil, toWire(err)
	}
	return importTo(report), nil
}

func (s *ledger) Export(ctx context.Context, req *v1.ExportRequest) (*v1.ExportResponse, error) {
	table, rows, err := s.node.Export(ctx, node.ExportRequest{
		Kind: req.GetKind(), Where: req.GetWhere(), Columns: req.GetColumns(), Format: req.GetFormat(),
		Search: req.GetSearch(), Sort: req.GetSort(), Hidden: req.GetHidden(),
	})
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.ExportResponse{Data: table, Rows: count(rows)}, nil
}

func (s *ledger) SetAside(ctx context.Context, req *v1.SetAsideRequest) (*v1.SetAsideResponse, error) {
	aside, err := s.node.SetAside(ctx, int(req.GetLimit()))
	if err != nil {
		return nil, toWire(err)
	}
	return &v1.SetAsideResponse{Revisions: each(aside.Revisions, revisionTo), Total: count(aside.Total), AsOf: aside.AsOf}, nil
}

func (s *ledger) Watch(ctx context.Context, _ *v1.WatchRequest, stream *connect.ServerStream[v1.WatchResponse]) error {
	ctx, done := s.bound(ctx)
	defer done()
	for change := range s.node.Watch(ctx) {
		if err := stream.Send(changeTo(change)); err != nil {
			return err
		}
	}
	return nil
}

func (s *ledger) Schema(context.Context, *v1.SchemaRequest) (*v1.SchemaResponse, error) {
	return Schema(), nil
}

// Schema is what any node of this program says of its records.
func Schema() *v1.SchemaResponse { return &v1.SchemaResponse{Kinds: each(node.Schema(), kindTo)} }
