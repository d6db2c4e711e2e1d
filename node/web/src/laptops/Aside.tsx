import { useMutation, useQuery } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Revision } from '../gen/plumbline/v1/record_pb';
import { StaffService } from '../gen/plumbline/v1/staff_pb';
import { minute } from '../parts/dates';
import { useSay } from '../parts/Said';
import { Sure } from '../parts/Sure';
import { count, plainName } from '../parts/words';
import { sentence } from '../transport';

const most = 100;

/** One laptop, whose work lies beyond what was accepted of it. */
interface Shut {
  device: string;
  name: string;
}

/** Entries that are kept and count for nothing, each with why; what a director can do about it. */
export function Aside({ total, isDirector }: { total: number; isDirector: boolean }) {
  const revisions = useQuery(LedgerService.method.setAside, { limit: most }, { enabled: total > 0 }).data?.revisions ?? [];
  const [asked, setAsked] = useState<Shut>();
  if (total === 0) return null;
  return (
    <section aria-labelledby="aside-title">
      <h2 id="aside-title">{count(total, 'entry', 'entries')} kept that {total === 1 ? 'doesn’t' : 'don’t'} count</h2>
      {shut(revisions).map((laptop) => (
        <p key={laptop.device} className="answers">
          <b>{laptop.name}</b> wrote on after its standing had ended.{' '}
          {isDirector ? (
            <button type="button" onClick={() => setAsked(laptop)}>
              Let it count
            </button>
          ) : (
            'A director can let it count.'
          )}
        </p>
      ))}
      <div className="wide">
        <table className="book">
          <thead>
            <tr>
              <th>Written</th>
              <th>By</th>
              <th>On</th>
              <th>What</th>
              <th>Why it doesn’t count</th>
            </tr>
          </thead>
          <tbody>
            {revisions.map((one) => (
              <tr key={one.id}>
                <td>{minute(one.written)}</td>
                <td>{[one.personName || 'unknown', one.deviceName].filter(Boolean).join(', ')}</td>
                <td>{[one.title, one.kind !== '' && plainName(one.kind)].filter(Boolean).join(', ')}</td>
                <td>{said(one)}</td>
                <td>{one.reason || one.status}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {revisions.length < total && revisions.length > 0 && <p className="soft">And {total - revisions.length} more.</p>}
      {asked && <Accept laptop={asked} onClose={() => setAsked(undefined)} />}
    </section>
  );
}

/** Raises what is accepted of a laptop to all that has come of it: the ledger lets nothing less replace a cut. */
function Accept({ laptop, onClose }: { laptop: Shut; onClose: () => void }) {
  const call = useMutation(StaffService.method.accept);
  const queries = useQueryClient();
  const say = useSay();
  const accept = () =>
    call.mutate(
      { who: laptop.device },
      {
        onSuccess: () => {
          void queries.invalidateQueries();
          say(`✓ ${laptop.name}: what came of it counts`);
          onClose();
        },
      },
    );
  return (
    <Sure
      question={{
        title: `Let count what ${laptop.name} wrote?`,
        text: 'All that has come of it counts then, on every laptop; what it writes later still counts nowhere, and it stays revoked. Read first what it wrote: that can be taken back only by erasing it.',
        yes: 'Let it count',
      }}
      trouble={call.error ? sentence(call.error) : ''}
      isBusy={call.isPending}
      onYes={accept}
      onNo={onClose}
    />
  );
}

function shut(revisions: readonly Revision[]): Shut[] {
  const found = new Map<string, Shut>();
  for (const one of revisions) {
    if (one.status === 'set aside') found.set(one.device, { device: one.device, name: `${one.personName}’s ${one.deviceName || 'laptop'}` });
  }
  return [...found.values()];
}

function said({ act, fields }: Revision): string {
  if (fields.length === 0) return act;
  return fields.map((field) => `${plainName(field.name)}: ${field.cleared ? 'cleared' : field.text.replaceAll('_', ' ')}`).join('; ');
}
