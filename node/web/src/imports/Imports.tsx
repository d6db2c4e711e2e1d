import { useEffect, useId, useRef } from 'react';
import { bringIntoView } from '../parts/turn';
import { plural } from '../parts/words';
import { Changes } from './Changes';
import { Heads, unplaced } from './Heads';
import './imports.css';
import { NamesakeRows } from './NamesakeRows';
import { type About, useTable } from './useTable';

const kinds = ['prospect', 'measurement', 'game', 'rep', 'evaluation'] as const;
const origins = ['listed', 'estimated', 'verified'] as const;

/** Brings a table in: first it says what would change, and what is wrong with which cell. */
export function Imports() {
  const table = useTable();
  const { about, outline, preview } = table;
  const id = useId();
  const wrong = (preview?.errors.length ?? 0) + (preview?.namesakeRows ?? 0);
  const heads = useRef<HTMLDetailsElement>(null);
  const results = useRef<HTMLDivElement>(null);
  /** What was said last was said of columns: whoever is at work on them stays there. */
  const isAtColumns = useRef(false);
  const sayOfColumns = (change: Partial<About>) => {
    isAtColumns.current = true;
    table.say(change);
  };
  const say = (change: Partial<About>) => {
    isAtColumns.current = false;
    table.say(change);
  };
  const hasPlaces = outline !== undefined && unplaced(outline.columns, about.map).length === 0;
  useEffect(() => {
    if (!preview || wrong === 0 || isAtColumns.current) return;
    if (heads.current) heads.current.open = false;
    bringIntoView(results.current?.querySelector('.namesakes, .problems') ?? null, 'nearest');
  }, [preview, wrong]);
  const trouble = table.trouble && (
    <p className="notice" role="alert">
      {table.trouble}
    </p>
  );
  return (
    <main className="text-page imports" aria-busy={table.isBusy}>
      <h1>Import a table</h1>
      <p className="soft">
        CSV or a sheet of a workbook (XLSX), with a line of heads that name the fields. Values are read, never formulas. Nothing is stored before
        you say so.
      </p>
      <div className="form">
        <label htmlFor={`${id}kind`}>Each row is a</label>
        <select id={`${id}kind`} value={about.kind} onChange={(event) => say({ kind: event.target.value })}>
          {kinds.map((one) => (
            <option key={one}>{one}</option>
          ))}
        </select>
        <label htmlFor={`${id}source`}>The list’s name</label>
        <input
          id={`${id}source`}
          placeholder="the same for all who import it, such as: class of 2027"
          value={about.source}
          onChange={(event) => table.note({ source: event.target.value })}
          onBlur={() => say({})}
        />
        <label htmlFor={`${id}origin`}>Its numbers are</label>
        <select id={`${id}origin`} value={about.origin} onChange={(event) => say({ origin: event.target.value })}>
          <option value="">as a column says</option>
          {origins.map((one) => (
            <option key={one}>{one}</option>
          ))}
        </select>
        <label htmlFor={`${id}file`}>File</label>
        <input
          id={`${id}file`}
          type="file"
          accept=".csv,text/csv,.xlsx"
          onChange={(event) => {
            isAtColumns.current = false;
            void table.choose(event.target.files?.[0]);
          }}
        />
        {outline && outline.sheets.length > 0 && (
          <>
            <label htmlFor={`${id}sheet`}>Sheet</label>
            <select id={`${id}sheet`} value={about.sheet} onChange={(event) => say({ sheet: event.target.value })}>
              {outline.sheets.map((one) => (
                <option key={one}>{one}</option>
              ))}
            </select>
          </>
        )}
      </div>
      {hasPlaces && trouble}
      {outline && outline.columns.length > 0 && (
        <Heads
          box={heads}
          columns={outline.columns}
          fields={outline.fields}
          map={about.map}
          onMap={(map) => sayOfColumns({ map })}
          fill={about.fill}
          onFill={(fill) => sayOfColumns({ fill })}
        />
      )}
      {!hasPlaces && trouble}
      {table.isBusy && <p className="soft">Reading {table.file}.</p>}
      <div ref={results} className="results">
        {table.done && <Changes answer={table.done} heads={[]} title="✓ Saved" />}
        {!table.done && outline && (
          <NamesakeRows answer={preview} said={about.namesakes} isBusy={table.isBusy} onSay={(namesakes) => say({ namesakes })} />
        )}
        {!table.done && outline && preview && (
          <Changes answer={preview} heads={outline.columns.map((column) => column.head)} title={`${table.file}: what would change`}>
            <button type="button" className="main" disabled={wrong > 0 || table.isBusy} onClick={() => table.bring(false)}>
              Import the {plural(about.kind)}
            </button>
            {wrong > 0 && (
              <button type="button" disabled={table.isBusy} onClick={() => table.bring(true)}>
                {preview.errors.length > 0 ? 'Import the rows that are right' : 'Import the other rows'}
              </button>
            )}
          </Changes>
        )}
      </div>
    </main>
  );
}
