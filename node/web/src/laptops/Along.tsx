import type { Amount, WrittenAlone } from '../gen/plumbline/v1/alone_pb';
import { count, plainName, plural } from '../parts/words';

/** What somebody wrote alone and takes along into the staff that this laptop joins: said before it happens. */
export function Along({ alone }: { alone: WrittenAlone }) {
  return (
    <dl className="along">
      <dt>Goes along</dt>
      <dd>
        {amounts(alone.taken)}. Ids, lists and days stay as they are, and so does what is in conflict or retired.
      </dd>
      {alone.left.length > 0 && (
        <>
          <dt>Stays behind</dt>
          <dd>{amounts(alone.left)}, which only a director may write: unless you are let in as a director.</dd>
        </>
      )}
      <dt>Is kept</dt>
      <dd>
        The ledger as it is now, with all that was ever written in it, to be read with <code>plumbline --data {alone.kept} run</code>.
      </dd>
    </dl>
  );
}

/** What came along here when this laptop joined. */
export function CameAlong({ alone }: { alone: WrittenAlone }) {
  return (
    <p className="soft">
      From {alone.staffName || 'what was written alone'} came along: {amounts(alone.taken)}.
      {alone.left.length > 0 && ` Left behind: ${amounts(alone.left)}.`} The ledger from before is kept in <code>{alone.kept}</code>.
    </p>
  );
}

const pairs = ['pair that is one or apart', 'pairs that are one or apart'] as const;

function amounts(all: Amount[]) {
  const parts = all.map(({ kind, records, retired }) => {
    const [one, many] = kind === 'same_as' ? pairs : [plainName(kind), plural(kind)];
    return count(records, one, many) + (retired > 0 ? ` (${retired} retired)` : '');
  });
  return parts.join(', ') || 'No records';
}
