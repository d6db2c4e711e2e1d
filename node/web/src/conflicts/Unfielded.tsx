import { useQuery } from '@connectrpc/connect-query';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Revision } from '../gen/plumbline/v1/record_pb';
import { minute } from '../parts/dates';
import { Revisions } from '../parts/Revisions';
import type { Props } from './ConflictCard';

/** What isn't about a field: a retirement in dispute, or two records that were joined and kept apart. */
export function Unfielded({ conflict, gone, whose, settle }: Pick<Props, 'conflict' | 'gone' | 'whose' | 'settle'>) {
  const isTorn = conflict.about === 'same';
  const answers = isTorn
    ? ['They are one: join them', `They are two: take ${conflict.otherTitle} out`]
    : ['It stays', 'Retire it, as it is now'];
  return (
    <>
      <p className="about" role="status">
        {gone && <b>✓ It is settled: nothing is left to do here. </b>}
        {isTorn ? (
          <>
            <b>{conflict.title}</b> and <b>{conflict.otherTitle}</b> were said to be two, but others joined both to the same records. Until
            it is settled, they are shown as one.
            {conflict.said.map((one) => (
              <span key={one.id} className="soft">
                {' '}
                {one.personName}: {one.text === 'yes' ? 'one' : 'two'}.
              </span>
            ))}
          </>
        ) : (
          <>
            <Who record={conflict.record} /> without having read everything on it. Until it is settled, it stays in sight.
            {settle.hasMore && !gone && <span className="just"> ▲ more just came in: it is listed below</span>}
          </>
        )}
      </p>
      {conflict.unread && conflict.unread.total > 0 && (
        <Revisions of={conflict.unread.revisions} total={conflict.unread.total} label="What hadn’t been read" about={conflict.title} />
      )}
      {whose === '' && (
        <ol className="choices">
          {answers.map((text, i) => (
            <li key={text}>
              <button type="button" className="choice" disabled={gone} onClick={() => settle.choose(i + 1)}>
                <kbd>{i + 1}</kbd>
                <span className="choice-text">{text}</span>
              </button>
            </li>
          ))}
        </ol>
      )}
    </>
  );
}

/** Who retired a record since it was last kept, and when. */
function Who({ record }: { record: string }) {
  const revisions = useQuery(LedgerService.method.history, { record }).data?.revisions ?? [];
  const retired = retirements(revisions).map((one) => `${one.personName || 'Somebody unknown'} (${minute(one.written)})`);
  return <>{retired.join(' and ') || 'Somebody'} retired it</>;
}

/** Oldest first, as the node tells them. What doesn't count retires nothing. */
function retirements(revisions: readonly Revision[]): Revision[] {
  const counting = revisions.filter((one) => one.status === 'applied');
  const kept = counting.findLastIndex((one) => one.act === 'keep');
  return counting.slice(kept + 1).filter((one) => one.act === 'retirement');
}
