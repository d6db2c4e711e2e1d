import { useMutation } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { type Clone, type Damage, NodeService, type Returned, type StatusResponse } from '../gen/plumbline/v1/node_pb';
import { minute } from '../parts/dates';
import { count } from '../parts/words';
import { sentence } from '../transport';

/** What a person is told once: what came back to this laptop, and which laptops were cloned, what a crash damaged. */
export function Told({ status }: { status: StatusResponse }) {
  const call = useMutation(NodeService.method.acknowledge);
  const queries = useQueryClient();
  if (status.returned.length + status.clones.length + status.damages.length === 0) return null;
  return (
    <section className="notice" aria-label="To be told once">
      {status.damages.map((d) => (
        <p key={d.kept}>{damaged(d)}</p>
      ))}
      {status.returned.map((r) => (
        <p key={`${r.log} ${r.device}`}>{cameBack(r)}</p>
      ))}
      {status.clones.map((c) => (
        <p key={c.log}>{cloned(c)}</p>
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

function cameBack(r: Returned) {
  return `${count(r.entries, 'entry', 'entries')} of this laptop’s own came back from ${whose(r)}: it had lost them, as after a restored backup. It writes on in a new log.`;
}

function cloned(c: Clone) {
  const since = c.entries.map((n) => count(n, 'entry', 'entries')).join(' and ');
  return (
    `The disk of ${c.own ? 'this laptop' : whose(c)} was copied, and both copies wrote on: ${since} since. All of it is kept and counts. ` +
    'Give one of the two keys of its own: invite its person again, and start “plumbline --state NEWFOLDER join ADDRESS WORD” there.'
  );
}

function damaged(d: Damage) {
  const what = 'The file of the last changes was found damaged when plumbline started after a crash';
  const kept = `The damaged file is kept at ${d.kept}. A disk or a memory that does this may do it again: have the laptop looked at, and make a backup.`;
  if (d.whole) return `${what}, and could be mended: nothing is missing. ${kept}`;
  const after = d.after ? ` after ${minute(d.after)}` : '';
  return `${what}: what was saved on this laptop${after} may be missing. It comes back from the other laptops by itself, if it had reached them; look for the rest and enter it again. ${kept}`;
}

function whose({ deviceName, personName, device }: { deviceName: string; personName: string; device: string }) {
  if (deviceName === '') return `laptop ${device}`;
  return personName === '' ? deviceName : `${deviceName} (${personName})`;
}
