import { Link } from '@tanstack/react-router';
import { useVirtualizer } from '@tanstack/react-virtual';
import { type CSSProperties, memo, type RefObject, useEffect } from 'react';
import type { Row } from '../gen/plumbline/v1/ledger_pb';
import { count } from '../parts/words';
import { type Column, columns, nextSort } from './columns';

interface Props {
  ref: RefObject<HTMLDivElement | null>;
  rows: readonly { row: Row; gone: boolean }[];
  current: string;
  sort: string;
  onSort: (sort: string) => void;
  onCurrent: (id: string) => void;
  /** What to say where there are no rows. */
  empty: string;
}

const height = 30;
const template = columns.map((column) => column.width).join(' ');
const narrow = columns
  .filter((column) => !column.extra)
  .map((column) => column.width)
  .join(' ');
const slim = columns.flatMap((column) => column.slim ?? []).join(' ');
const widths = {
  '--columns': `1.5rem ${template}`,
  '--columns-narrow': `1.5rem ${narrow}`,
  '--columns-slim': `1rem ${slim}`,
} as CSSProperties;

/** Rows of which only those in sight are drawn: a class has thousands. */
export function Table({ ref, rows, current, sort, onSort, onCurrent, empty }: Props) {
  const virtual = useVirtualizer({
    count: rows.length,
    getScrollElement: () => ref.current,
    estimateSize: () => height,
    overscan: 12,
    scrollPaddingStart: height,
  });
  const at = rows.findIndex((one) => one.row.id === current);
  useEffect(() => {
    if (at >= 0) virtual.scrollToIndex(at);
  }, [at, virtual]);

  return (
    <div
      ref={ref}
      className="rows"
      role="grid"
      aria-label="Prospects"
      aria-rowcount={rows.length + 1}
      aria-activedescendant={at >= 0 ? `row-${current}` : undefined}
      tabIndex={0}
      style={widths}
    >
      <div role="row" className="row head" aria-rowindex={1}>
        <span role="columnheader">
          <span className="unseen">Conflicts</span>
        </span>
        {columns.map((column) => (
          <Head key={column.name} column={column} sort={sort} onSort={onSort} />
        ))}
      </div>
      <div role="rowgroup" className="body" style={{ height: virtual.getTotalSize() }}>
        {virtual.getVirtualItems().map((item) => {
          const one = rows[item.index];
          if (!one) return null;
          return (
            <Line
              key={one.row.id}
              row={one.row}
              gone={one.gone}
              index={item.index}
              start={item.start}
              isCurrent={item.index === at}
              onCurrent={onCurrent}
            />
          );
        })}
      </div>
      {rows.length === 0 && empty !== '' && <p className="nobody soft">{empty}</p>}
    </div>
  );
}

const classOf = (column: Column) =>
  [column.number && 'number', column.extra && 'extra', !column.slim && 'not-slim'].filter(Boolean).join(' ');

function Head({ column, sort, onSort }: { column: Column; sort: string; onSort: (sort: string) => void }) {
  const up = sort === column.name;
  const down = sort === `-${column.name}`;
  return (
    <span role="columnheader" className={classOf(column)} aria-sort={up ? 'ascending' : down ? 'descending' : 'none'}>
      <button type="button" className="plain" onClick={() => onSort(nextSort(sort, column))}>
        {column.head}
        <span aria-hidden="true" className="turn">
          {up ? '↑' : down ? '↓' : ''}
        </span>
      </button>
    </span>
  );
}

interface LineProps {
  row: Row;
  gone: boolean;
  index: number;
  start: number;
  isCurrent: boolean;
  onCurrent: (id: string) => void;
}

/** One row. It is drawn again only when something of it changes, not with each key that is typed. */
const Line = memo(function Line({ row, gone, index, start, isCurrent, onCurrent }: LineProps) {
  return (
    <div
      role="row"
      id={`row-${row.id}`}
      className={gone ? 'row gone' : 'row'}
      aria-rowindex={index + 2}
      aria-selected={isCurrent}
      style={{ transform: `translateY(${start}px)` }}
      onMouseDown={() => onCurrent(row.id)}
    >
      <span role="gridcell" className="differs sign" title={row.conflicts > 0 ? count(row.conflicts, 'conflict') : undefined}>
        {row.conflicts > 0 && (
          <>
            <span aria-hidden="true">≠</span>
            <span className="unseen">{count(row.conflicts, 'conflict')}</span>
          </>
        )}
      </span>
      {columns.map((column, i) => (
        <span key={column.name} role="gridcell" className={row.texts[i] === '0' ? `${classOf(column)} soft` : classOf(column)}>
          {i === 0 ? (
            <Link to="/prospects/$id" params={{ id: row.id }} tabIndex={-1}>
              {row.texts[i] || row.title}
            </Link>
          ) : (
            row.texts[i]?.replaceAll('_', ' ')
          )}
        </span>
      ))}
    </div>
  );
});
