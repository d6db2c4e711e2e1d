import { useNavigate } from '@tanstack/react-router';
import { useEffect, useRef } from 'react';
import type { Row } from '../gen/plumbline/v1/ledger_pb';
import { useKeys } from '../keys/useKeys';
import { useCalm } from '../parts/calm';
import { Export, useExport } from '../parts/Export';
import { count } from '../parts/words';
import { sentence } from '../transport';
import { columns } from './columns';
import { FilterField } from './FilterField';
import { useListState } from './listState';
import './prospects.css';
import { Table } from './Table';
import { useList } from './useList';

const rowKey = (row: Row) => row.id;

/** The list of prospects: searched as one types, filtered, sorted, and walked through by keys. */
export function Prospects() {
  const { question, ask, current, setCurrent, setOrder } = useListState();
  const { answer, error, isAsking, isPart } = useList(question);
  const calm = useCalm(answer?.rows, JSON.stringify(question), rowKey, isPart);
  const searchField = useRef<HTMLInputElement>(null);
  const filterField = useRef<HTMLInputElement>(null);
  const table = useRef<HTMLDivElement>(null);
  const navigate = useNavigate();

  const save = useExport();
  const listed = { ...question, kind: 'prospect', sort: [question.sort], columns: columns.map((column) => column.name) };

  const ids = calm.rows.map((one) => one.row.id);
  const at = ids.indexOf(current);
  const order = ids.join();
  useEffect(() => setOrder(order === '' ? [] : order.split(',')), [order, setOrder]);

  const go = (to: number) => setCurrent(ids[Math.max(0, Math.min(ids.length - 1, to))] ?? '');
  const open = (id: string) => void navigate({ to: '/prospects/$id', params: { id } });
  const toTable = () => {
    if (at < 0) go(0);
    table.current?.focus();
  };
  useKeys({
    search: () => {
      searchField.current?.focus();
      searchField.current?.select();
    },
    filter: () => filterField.current?.focus(),
    down: () => go(at + 1),
    up: () => go(at - 1),
    first: () => go(0),
    last: () => go(ids.length - 1),
    open: () => current !== '' && open(current),
    renew: calm.renew,
    saveCSV: () => save(listed, 'csv'),
    saveXLSX: () => save(listed, 'xlsx'),
    showRetired: () => ask({ hidden: !question.hidden }),
  });

  return (
    <main className="prospects">
      <h1 className="unseen">Prospects</h1>
      <div className="ask">
        <input
          ref={searchField}
          type="search"
          className="search"
          aria-label="Search names, schools and notes"
          placeholder="search"
          value={question.search}
          onChange={(event) => ask({ search: event.target.value })}
          onKeyDown={(event) => {
            if (event.key === 'Enter' || event.key === 'ArrowDown') toTable();
            else if (event.key === 'Escape') event.currentTarget.blur();
            else return;
            event.preventDefault();
          }}
        />
        <FilterField
          ref={filterField}
          value={question.where}
          refusal={error ? sentence(error) : undefined}
          isAsking={isAsking}
          onChange={(where) => ask({ where })}
          onDone={toTable}
        />
        <div className="tally">
          <p role="status">{answer ? count(answer.total, 'prospect') : ''}</p>
          <label className="check">
            <input type="checkbox" checked={question.hidden} onChange={(event) => ask({ hidden: event.target.checked })} />
            retired too
          </label>
          <button type="button" onClick={() => void navigate({ to: '/new/$kind', params: { kind: 'prospect' } })}>
            New <kbd>N</kbd>
          </button>
          <Export {...listed} />
        </div>
      </div>
      <Table
        ref={table}
        rows={calm.rows}
        current={current}
        sort={question.sort}
        onSort={(sort) => ask({ sort })}
        onCurrent={setCurrent}
        empty={answer ? emptiness(question.search, question.where) : ''}
      />
      <p className="arrived" role="status">
        {calm.waiting > 0 ? (
          <button type="button" onClick={calm.renew}>
            {count(calm.waiting, 'row')} arrived or moved: show <kbd>r</kbd>
          </button>
        ) : (
          <span className="key-hint">
            <kbd>/</kbd> search · <kbd>f</kbd> filter · <kbd>j</kbd> <kbd>k</kbd> walk · <kbd>Enter</kbd> open · <kbd>?</kbd> all keys
          </span>
        )}
      </p>
    </main>
  );
}

function emptiness(search: string, where: string): string {
  if (search !== '' || where !== '') return 'Nobody matches. Take something out of the search or the filter.';
  return 'No prospects yet. N enters one; a list comes in on the page Import.';
}
