package mesh

import (
	"fmt"
	"log/slog"
)

// brokerLog passes on what the NATS server has to say. Its notices are about
// a server that somebody runs, which is nothing to report here.
type brokerLog struct{ log *slog.Logger }

func (l brokerLog) Noticef(format string, v ...any) { l.debug(format, v) }
func (l brokerLog) Debugf(format string, v ...any)  { l.debug(format, v) }
func (l brokerLog) Tracef(format string, v ...any)  { l.debug(format, v) }

func (l brokerLog) Warnf(format string, v ...any) {
	l.log.Warn("message server", "says", fmt.Sprintf(format, v...))
}

func (l brokerLog) Errorf(format string, v ...any) {
	l.log.Error("message server", "says", fmt.Sprintf(format, v...))
}

// Fatalf doesn't end the program: what fails is reported to whoever waits.
func (l brokerLog) Fatalf(format string, v ...any) { l.Errorf(format, v...) }

func (l brokerLog) debug(format string, v []any) {
	l.log.Debug("message server", "says", fmt.Sprintf(format, v...))
}
