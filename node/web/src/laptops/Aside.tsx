import { useMutation, useQuery } from '@connectrpc/connect-query';
import { keepPreviousData, useQueryClient } from '@tanstack/react-query';
import { useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Revision } from '../gen/plumbline/v1/record_pb';
import { StaffService } from '../gen/plumbline/v1/staff_pb';
import { minute } from '../parts/dates';
import { nameOf, Revisions, saidIn } from '../parts/Revisions';
import { useSay } from '../parts/Said';
import { Sure } from '../parts/Sure';
import { count, laptopOf, plainName } from '../parts/words';
import { Wide } from '../parts/Wide';
import { onPage, sentence } from '../transport';

/** How many are listed at first, and how many more each time. */
const some = 100;

/** What was listed when somebody pressed. */
interface Listed {
  asOf: string;
  revisions: readonly Revision[];
  total: number;
}

/** What doesn't count of one laptop. */
interface Shut {
  device: string;
  name: string;
  revisions: readonly Revision[];
}

/** Entries that are kept and count for nothing, by laptop, with why; what a director can do about it. */
export function Aside({ total, isDirector }: { total: number; isDirector: boolean }) {
  const [limit, setLimit] = useState(some);
  const answer = useQuery(LedgerService.method.setAside, { limit }, { enabled: total > 0, placeholderData: keepPreviousData });
  const revisions = answer.data?.revisions ?? [];
  const [asked, setAsked] = useState<Shut & { read: Listed }>();
  if (total === 0) return null;
  return (
    <section className="aside" aria-labelledby="aside-title">
      <h2 id="aside-title">{count(total, 'entry', 'entries')} kept that {total === 1 ? 'doesn’t' : 'don’t'} count</h2>
      {byLaptop(revisions).map((laptop) => (
        <OfLaptop key={laptop.device} laptop={laptop} isDirector={isDirector} onAsk={() => answer.data && setAsked({ ...laptop, read: answer.data })} />
      ))}
      {revisions.length < total && revisions.length > 0 && (
        <p className="answers">
          <span className="soft">And {total - revisions.length} more.</span>
          <button type="button" onClick={() => setLimit(limit + some)}>
            Show more
          </button>
        </p>
      )}
      {asked && answer.data && <Accept laptop={asked} was={asked.read} now={answer.data} onClose={() => setAsked(undefined)} />}
    </section>
  );
}

/** Whose work it is, why it doesn't count, and what it is. One reason for all is said once. */
function OfLaptop({ laptop, isDirector, onAsk }: { laptop: Shut; isDirector: boolean; onAsk: () => void }) {
  const reasons = [...new Set(laptop.revisions.map(why))];
  const hasReasons = reasons.length > 1;
  return (
    <>
      <h3>{laptop.name}</h3>
      {!hasReasons && <p>It doesn’t count: {reasons[0]}.</p>}
      {laptop.revisions.some(isSetAside) && (
        <p className="answers">
          {isDirector ? (
            <button type="button" onClick={onAsk}>
              Let it count
            </button>
          ) : (
            'A director can let it count.'
          )}
        </p>
      )}
      <Wide of={`What doesn’t count of ${laptop.name}`}>
        <table className="book">
          <thead>
            <tr>
              <th>Written</th>
              <th>On</th>
              <th>What</th>
              {hasReasons && <th>Why it doesn’t count</th>}
            </tr>
          </thead>
          <tbody>
            {laptop.revisions.map((one) => (
              <tr key={one.id}>
                <td className="whole">{minute(one.written)}</td>
                <td>{on(one)}</td>
                <td>{saidIn(one)}</td>
                {hasReasons && <td>{why(one)}</td>}
              </tr>
            ))}
          </tbody>
        </table>
      </Wide>
    </>
  );
}

const isSetAside = (one: Revision) => one.status === 'set aside';

const why = (one: Revision) => onPage(one.reason || one.status);

/** The record's name and its kind, which is said once where it stands for the name. */
const on = (one: Revision) => [...new Set([nameOf(one), plainName(one.kind)])].filter(Boolean).join(', ');

interface AcceptProps {
  laptop: Shut;
  was: Listed;
  now: Listed;
  onClose: () => void;
}

/**
 * Raises what is accepted of a laptop to what was listed of it. What comes in while one is asked is shown first. Rights come
 * into force with it only if they are ticked: a press that is meant for somebody's work hands out nothing.
 */
function Accept({ laptop, was, now, onClose }: AcceptProps) {
  const [read, setRead] = useState(was);
  const [withRights, setWithRights] = useState(false);
  const ask = { who: laptop.device, asOf: read.asOf };
  const would = useQuery(StaffService.method.accept, { ...ask, dryRun: true }, { placeholderData: keepPreviousData });
  const call = useMutation(StaffService.method.accept);
  const queries = useQueryClient();
  const say = useSay();
  const rights = would.data?.rights ?? [];
  const ids = new Set(read.revisions.map((one) => one.id));
  const news = now.revisions.filter((one) => one.device === laptop.device && !ids.has(one.id));
  const listed = read.revisions.filter((one) => one.device === laptop.device && isSetAside(one) && !one.control).length;
  const onYes = () => {
    if (news.length > 0) {
      setRead(now);
      return setWithRights(false);
    }
    if (would.isPlaceholderData) return; // what comes with it is on its way
    call.mutate(
      { ...ask, rights: withRights },
      {
        onSuccess: () => {
          void queries.invalidateQueries();
          say(withRights || rights.length === 0 ? `✓ ${laptop.name}: what was listed of it counts` : `✓ ${laptop.name}: its work counts; rights are as they were`);
          onClose();
        },
      },
    );
  };
  if (would.isPending) return null;
  const isOnlyRights = listed === 0 && rights.length > 0;
  const trouble = call.error ?? would.error;
  return (
    <Sure
      question={{
        title: `Let count what ${laptop.name} wrote?`,
        text: isOnlyRights ? 'Nothing that is listed of it is work.' : aboutWork(listed, read.revisions.length < read.total),
        yes: news.length > 0 ? 'I have read it' : 'Let it count',
      }}
      before={rights.length > 0 && <Rights rights={rights} isTicked={withRights} onTick={setWithRights} />}
      trouble={trouble ? sentence(trouble) : ''}
      isBusy={call.isPending || (isOnlyRights && !withRights && news.length === 0)}
      onYes={onYes}
      onNo={onClose}
    >
      {news.length > 0 && (
        <>
          <p className="just" role="status">
            ▲ This has just arrived of it. Read it first:
          </p>
          <Revisions of={news} total={news.length} label="What just arrived" />
        </>
      )}
    </Sure>
  );
}

/** What a press lets count, and what it doesn't. */
function aboutWork(listed: number, isPart: boolean): string {
  const rest = isPart ? 'What isn’t listed yet and what comes in later' : 'What comes in later';
  return `${listed === 1 ? 'The entry listed of it counts' : `The ${listed} entries listed of it count`} then, on every laptop. ${rest} still counts nowhere, and the laptop’s standing stays as it is. Read first what it wrote: only erasing takes that back.`;
}

/** What would come into force besides work, and the tick that lets it. */
function Rights({ rights, isTicked, onTick }: { rights: readonly string[]; isTicked: boolean; onTick: (isTicked: boolean) => void }) {
  return (
    <div className="notice">
      <p>▲ It decided who may what. If that is to count:</p>
      <ul>
        {rights.map((one) => (
          <li key={one}>{onPage(one)}</li>
        ))}
      </ul>
      <label className="check">
        <input type="checkbox" checked={isTicked} onChange={(event) => onTick(event.target.checked)} />
        Let this come into force too, on every laptop
      </label>
    </div>
  );
}

function byLaptop(revisions: readonly Revision[]): Shut[] {
  const found = new Map<string, Shut & { revisions: Revision[] }>();
  for (const one of revisions) {
    const name = laptopOf({ personName: one.personName || 'Somebody unknown', deviceName: one.deviceName });
    const laptop = found.get(one.device) ?? { device: one.device, name, revisions: [] };
    laptop.revisions.push(one);
    found.set(one.device, laptop);
  }
  return [...found.values()];
}
