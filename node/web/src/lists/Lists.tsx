import { useQuery } from '@connectrpc/connect-query';
import { Link, useNavigate, useParams } from '@tanstack/react-router';
import { useRef, useState } from 'react';
import { useRights } from '../form/rights';
import { LedgerService, type Row } from '../gen/plumbline/v1/ledger_pb';
import { useKeys } from '../keys/useKeys';
import { freshOf, useCalm } from '../parts/calm';
import { Dated } from '../parts/Dated';
import { Export } from '../parts/Export';
import { placeOf } from '../parts/place';
import { useSay } from '../parts/Said';
import { count, plainName, plural } from '../parts/words';
import { Wide } from '../parts/Wide';
import { sentence } from '../transport';
import './lists.css';

/** What is looked up by itself; the rest is found where it belongs. The ledger's own kinds are no matter for a list. */
const kinds = ['game', 'factor', 'assignment', 'flag', 'person', 'evaluation', 'look', 'note', 'claim', 'measurement', 'rep'];
const most = 200;
const rowKey = (row: Row) => row.id;

/** The records of one kind, searched as one types. */
export function Lists() {
  const { kind } = useParams({ from: '/lists/$kind' });
  return <OneList key={kind} kind={kind} />;
}

function OneList({ kind }: { kind: string }) {
  const [search, setSearch] = useState('');
  const [isHidden, setHidden] = useState(false);
  const [at, setAt] = useState(-1);
  const field = useRef<HTMLInputElement>(null);
  const navigate = useNavigate();
  const rights = useRights();
  const say = useSay();
  const input = { kind, search: search.trim(), hidden: isHidden };
  const answer = useQuery(LedgerService.method.list, { ...input, limit: most, textsOnly: true }, { placeholderData: (before) => before });
  const calm = useCalm(answer.isPlaceholderData ? undefined : freshOf(answer)?.rows, JSON.stringify(input), rowKey);
  const rows = calm.rows;
  const columns = answer.data?.columns ?? [];
  const open = (id: string | undefined) => {
    if (id) void navigate(placeOf(kind, id));
  };
  const add = () => {
    const why = rights.whyNot(kind) || (isUnder(kind) ? `${plainName(kind)}: add it on the prospect’s page, where it belongs.` : '');
    if (why) say(why, 'refused');
    else void navigate({ to: '/new/$kind', params: { kind } });
  };
  useKeys({
    addRecord: add,
    searchRecords: () => field.current?.focus(),
    downRecord: () => setAt(Math.min(rows.length - 1, at + 1)),
    upRecord: () => setAt(Math.max(0, at - 1)),
    openRow: () => open(rows[at]?.row.id),
    renew: calm.renew,
  });
  const labels = new Map(rights.kindOf(kind)?.fields.map((info) => [info.name, info.label]));
  const numbers = new Set(rights.kindOf(kind)?.fields.filter((info) => info.type.endsWith('number')).map((info) => info.name));
  return (
    <main className="text-page lists of-kind">
      <h1>{plural(kind)}</h1>
      <nav className="kinds" aria-label="Kinds of records">
        {kinds.map((name) => (
          <Link key={name} to="/lists/$kind" params={{ kind: name }}>
            {plural(name)}
          </Link>
        ))}
      </nav>
      <div className="list-ask">
        <input
          ref={field}
          type="search"
          aria-label={`Search ${plural(kind)}`}
          placeholder="search"
          value={search}
          onChange={(event) => {
            setSearch(event.target.value);
            setAt(0);
          }}
          onKeyDown={(event) => {
            if (event.key !== 'Escape' && event.key !== 'Enter' && event.key !== 'ArrowDown') return;
            event.preventDefault();
            event.currentTarget.blur();
            if (event.key !== 'Escape') setAt(Math.max(0, at));
          }}
        />
        <label className="check">
          <input type="checkbox" checked={isHidden} onChange={(event) => setHidden(event.target.checked)} />
          retired too
        </label>
        {!isUnder(kind) && (
          <button type="button" className="main" onClick={add}>
            Add <kbd>n</kbd>
          </button>
        )}
        <Export {...input} columns={columns} sort={[]} where="" />
      </div>
      {answer.error && <p className="notice">{sentence(answer.error)}</p>}
      <p className="soft fine" role="status">
        {answer.data && (rows.length < answer.data.total ? `The first ${rows.length} of ${count(answer.data.total, plainName(kind), plural(kind))}: search to find the others.` : count(answer.data.total, plainName(kind), plural(kind)))}
      </p>
      <Wide of={plainName(kind)}>
        <table className="book">
          <thead>
            <tr>
              {columns.map((name) => (
                <th key={name} className={numbers.has(name) ? 'number' : ''}>
                  {labels.get(name) ?? plainName(name)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map(({ row, gone }, i) => (
              <tr
                key={row.id}
                aria-selected={i === at}
                className={[i === at && 'current', gone && 'gone'].filter(Boolean).join(' ')}
                onClick={() => open(row.id)}
              >
                {columns.map((name, cell) => {
                  const text = row.texts[cell]?.replaceAll('_', ' ') ?? '';
                  // Reps of one look follow each other: what is said above needs no lines of its own.
                  const isAgain = cell === 0 && text !== '' && row.texts[0] === rows[i - 1]?.row.texts[0];
                  return (
                    <td key={name} className={numbers.has(name) ? 'number' : isAgain ? 'again' : room(text)} title={isAgain ? text : undefined}>
                      {cell === 0 ? (
                        <Link to="/records/$id" params={{ id: row.id }} onClick={(event) => event.stopPropagation()}>
                          <Dated text={text || row.title} />
                        </Link>
                      ) : (
                        <Dated text={text} />
                      )}
                    </td>
                  );
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </Wide>
      {/* Below the rows: above them it would move what somebody is about to press. */}
      {calm.waiting > 0 && (
        <button type="button" onClick={calm.renew}>
          {count(calm.waiting, 'row')} arrived or moved: show <kbd>r</kbd>
        </button>
      )}
      {answer.data && rows.length === 0 && <p className="soft">None{search ? ' that matches' : ' yet'}.</p>}
    </main>
  );
}

/** Whether records of a kind stand under a look or an evaluation, and are added there. */
const isUnder = (kind: string) => kind === 'rep' || kind === 'claim';

/** A few words stay on one line, and many have room for several words on each: the table is pushed aside, not squeezed. */
function room(text: string): string {
  if (text.length <= 20) return 'whole';
  return text.length > 40 ? 'roomy' : '';
}
