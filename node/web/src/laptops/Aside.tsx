import { useMutation, useQuery } from '@connectrpc/connect-query';
import { keepPreviousData, useQueryClient } from '@tanstack/react-query';
import { useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Revision } from '../gen/plumbline/v1/record_pb';
import { StaffService } from '../gen/plumbline/v1/staff_pb';
import { minute } from '../parts/dates';
import { Revisions, saidIn } from '../parts/Revisions';
import { useSay } from '../parts/Said';
import { Sure } from '../parts/Sure';
import { count, plainName } from '../parts/words';
import { sentence } from '../transport';

/** How many are listed at first, and how many more each time. */
const some = 100;

/** One laptop, whose work lies beyond what was accepted of it. */
interface Shut {
  device: string;
  name: string;
}

/** What was listed when somebody pressed. */
interface Listed {
  asOf: string;
  revisions: readonly Revision[];
}

/** Entries that are kept and count for nothing, each with why; what a director can do about it. */
export function Aside({ total, isDirector }: { total: number; isDirector: boolean }) {
  const [limit, setLimit] = useState(some);
  const answer = useQuery(LedgerService.method.setAside, { limit }, { enabled: total > 0, placeholderData: keepPreviousData });
  const revisions = answer.data?.revisions ?? [];
  const [asked, setAsked] = useState<Shut & Listed>();
  if (total === 0) return null;
  return (
    <section aria-labelledby="aside-title">
      <h2 id="aside-title">{count(total, 'entry', 'entries')} kept that {total === 1 ? 'doesn’t' : 'don’t'} count</h2>
      {shut(revisions).map((laptop) => (
        <p key={laptop.device} className="answers">
          <b>{laptop.name}</b> wrote on after its standing had ended.{' '}
          {isDirector ? (
            <button type="button" onClick={() => answer.data && setAsked({ ...laptop, ...answer.data })}>
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
                <td>{saidIn(one)}</td>
                <td>{one.reason || one.status}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {revisions.length < total && revisions.length > 0 && (
        <p className="answers">
          <span className="soft">And {total - revisions.length} more.</span>{' '}
          <button type="button" onClick={() => setLimit(limit + some)}>
            Show more
          </button>
        </p>
      )}
      {asked && answer.data && <Accept laptop={asked} now={answer.data} onClose={() => setAsked(undefined)} />}
    </section>
  );
}

/** Raises what is accepted of a laptop to what was listed of it. What comes in while one is asked is shown first. */
function Accept({ laptop, now, onClose }: { laptop: Shut & Listed; now: Listed; onClose: () => void }) {
  const [read, setRead] = useState<Listed>(laptop);
  const call = useMutation(StaffService.method.accept);
  const queries = useQueryClient();
  const say = useSay();
  const ids = new Set(read.revisions.map((one) => one.id));
  const news = now.revisions.filter((one) => one.device === laptop.device && !ids.has(one.id));
  const onYes = () => {
    if (news.length > 0) return setRead(now);
    call.mutate(
      { who: laptop.device, asOf: read.asOf },
      {
        onSuccess: () => {
          void queries.invalidateQueries();
          say(`✓ ${laptop.name}: what was listed of it counts`);
          onClose();
        },
      },
    );
  };
  return (
    <Sure
      question={{
        title: `Let count what ${laptop.name} wrote?`,
        text: 'What is listed of it counts then, on every laptop; what comes in later still counts nowhere, and it stays revoked. Read first what it wrote: that can be taken back only by erasing it.',
        yes: news.length > 0 ? 'I have seen what just arrived' : 'Let it count',
      }}
      trouble={call.error ? sentence(call.error) : ''}
      isBusy={call.isPending}
      onYes={onYes}
      onNo={onClose}
    >
      {news.length > 0 && (
        <>
          <p className="just" role="status">
            ▲ This has just arrived of it. Look at it first:
          </p>
          <Revisions of={news} total={news.length} label="What just arrived" />
        </>
      )}
    </Sure>
  );
}

function shut(revisions: readonly Revision[]): Shut[] {
  const found = new Map<string, Shut>();
  for (const one of revisions) {
    if (one.status === 'set aside') found.set(one.device, { device: one.device, name: `${one.personName}’s ${one.deviceName || 'laptop'}` });
  }
  return [...found.values()];
}
