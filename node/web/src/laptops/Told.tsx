import { useMutation } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { type Clone, NodeService, type Returned, type StatusResponse } from '../gen/plumbline/v1/node_pb';
import { count } from '../parts/words';
import { sentence } from '../transport';

/** What a person is told once: what came back to this laptop, and which laptops were cloned. */
export function Told({ status }: { status: StatusResponse }) {
  const call = useMutation(NodeService.method.acknowledge);
  const queries = useQueryClient();
  if (status.returned.length + status.clones.length === 0) return null;
  return (
    <section className="notice" aria-label="To be told once">
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

function whose({ deviceName, personName, device }: { deviceName: string; personName: string; device: string }) {
  if (deviceName === '') return `laptop ${device}`;
  return personName === '' ? deviceName : `${deviceName} (${personName})`;
}
