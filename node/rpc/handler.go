package rpc

import (
	"context"
	"fmt"
	"math"
	"net/http"

	"connectrpc.com/connect"
	"connectrpc.com/grpchealth"
	"connectrpc.com/grpcreflect"
	"connectrpc.com/validate"

	"plumbline/proto/plumbline/v1/plumblinev1connect"
)

// MaxTable is the most that a table to import may hold, in bytes.
const MaxTable = 64 << 20

// What one message may hold. A table travels as one message, in JSON a third
// longer; a write may change many fields with long texts.
const (
	maxMessage = 1 << 20
	maxWrite   = 16 << 20
	maxImport  = MaxTable*4/3 + 1<<20
)

// NewHandler serves a node: the three services, reflection and health. Streams
// end when closing ends, so that a server can shut down in order.
//
// There is no Connect over GET: a request that any page can cause must not do
// anything. The header that marks the Connect protocol isn't asked for, since
// [guard] asks every call for a token, which no page can forge either; plain
// curl needs one header less.
func NewHandler(closing context.Context, n Node) http.Handler {
	options := connect.WithHandlerOptions(
		connect.WithInterceptors(worded{}, validate.NewInterceptor()),
		connect.WithConditionalHandlerOptions(bounds),
		// Answers never leave the machine: to compress one takes longer than to
		// send it. What callers compressed is still read.
		connect.WithCompressMinBytes(math.MaxInt),
		connect.WithRecover(afterPanic),
	)
	names := []string{
		plumblinev1connect.LedgerServiceName, plumblinev1connect.StaffServiceName, plumblinev1connect.NodeServiceName,
	}
	reflector := grpcreflect.NewStaticReflector(append(names, grpchealth.HealthV1ServiceName)...)
	s := streams{closing: closing}
	mux := http.NewServeMux()
	mux.Handle(plumblinev1connect.NewLedgerServiceHandler(&ledger{node: n, streams: s}, options))
	mux.Handle(plumblinev1connect.NewStaffServiceHandler(&staff{node: n, streams: s}, options))
	mux.Handle(plumblinev1connect.NewNodeServiceHandler(&keeping{node: n, streams: s}, options))
	mux.Handle(grpcreflect.NewHandlerV1(reflector, options))
	mux.Handle(grpcreflect.NewHandlerV1Alpha(reflector, options))
	mux.Handle(grpchealth.NewHandler(grpchealth.NewStaticChecker(names...), options))
	return mux
}

func bounds(spec connect.Spec) []connect.HandlerOption {
	most := maxMessage
	switch spec.Procedure {
	case plumblinev1connect.LedgerServiceImportProcedure, plumblinev1connect.LedgerServiceOutlineProcedure:
		most = maxImport
	case plumblinev1connect.LedgerServiceWriteProcedure, plumblinev1connect.LedgerServiceCheckProcedure, plumblinev1connect.LedgerServiceSettleProcedure:
		most = maxWrite
	}
	return []connect.HandlerOption{connect.WithReadMaxBytes(most)}
}

// afterPanic keeps a mistake in one call from ending the others.
func afterPanic(_ context.Context, spec connect.Spec, _ http.Header, cause any) error {
	return connect.NewError(connect.CodeInternal, fmt.Errorf("%s failed by a mistake in the program: %v; "+
		"nothing of this call was saved unless it shows, please report it", spec.Procedure, cause))
}

// streams ends calls that would otherwise outlive the server.
type streams struct{ closing context.Context }

// bound returns a context that ends with ctx or with the server.
func (s streams) bound(ctx context.Context) (context.Context, context.CancelFunc) {
	ctx, cancel := context.WithCancel(ctx)
	stop := context.AfterFunc(s.closing, cancel)
	return ctx, func() { stop(); cancel() }
}
