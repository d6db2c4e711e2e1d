import { useMutation } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { type Clone, type Damage, NodeService, type Returned, type StatusResponse } from '../gen/plumbline/v1/node_pb';
import { minute } from '../parts/dates';
import { count, laptopOf } from '../parts/words';
import { sentence } from '../transport';

/** What a person is told once: what came back to this laptop, and which laptops were cloned, what a crash damaged. */
export function Told({ status }: { status: StatusResponse }) {
  const call = useMutation(NodeService.method.acknowledge);
  const queries = useQueryClient();
  if (!hasNews(status)) return null;
  return (
    <section className="notice" aria-label="To be told once">
      {status.damages.map((d) => (
        <Damaged key={d.kept} damage={d} />
      ))}
      {byLaptop(status.returned).map((r) => (
        <p key={r.device}>{cameBack(r)}</p>
      ))}
      {status.clones.map((c) => (
        <Cloned key={c.log} clone={c} />
      ))}
      <button
        type="button"
        disabled={call.isPending}
        onClick={() => call.mutate({}, { onSuccess: () => void queries.invalidateQueries() })}
      >
        I have read it
      </button>
      {call.error && <p role="alert">{sentence(call.error)}</p>}
    </section>
  );
}

/** Whether there is something that a person has to be told. */
export const hasNews = (status: StatusResponse) => status.returned.length + status.clones.length + status.damages.length > 0;

/** What came back from one laptop is told as one, whichever logs it was of. */
function byLaptop(all: readonly Returned[]): Returned[] {
  const found = new Map<string, Returned>();
  for (const one of all) {
    const before = found.get(one.device);
    found.set(one.device, before ? { ...before, entries: before.entries + one.entries } : one);
  }
  return [...found.values()];
}

function cameBack(r: Returned) {
  return `${count(r.entries, 'entry', 'entries')} of this laptop’s own came back from ${laptopOf(r)}: it had lost them, as after a restored backup. Nothing is left to do.`;
}

function Cloned({ clone }: { clone: Clone }) {
  const since = clone.entries.map((n) => count(n, 'entry', 'entries')).join(' and ');
  return (
    <p>
      The disk of {clone.own ? 'this laptop' : laptopOf(clone)} was copied, and both copies wrote on: {since} since. All of it is kept and counts.
      Give one of the two keys of its own: invite its person again, and start <code>plumbline --state NEWFOLDER join ADDRESS WORD</code> there.
    </p>
  );
}

function Damaged({ damage: { whole, after, kept } }: { damage: Damage }) {
  const since = after ? ` after ${minute(after)}` : '';
  return (
    <p>
      The file of the last changes was found damaged when plumbline started after a crash
      {whole
        ? ', and could be mended: nothing is missing.'
        : `: what was saved on this laptop${since} may be missing. It comes back from the other laptops by itself, as far as it had reached them; look for the rest and enter it again.`}{' '}
      A disk or a memory that does this may do it again: make a backup, and have the laptop looked at. The damaged file is kept at{' '}
      <code>{kept}</code>.
    </p>
  );
}
