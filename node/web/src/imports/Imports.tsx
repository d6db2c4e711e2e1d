import { useMutation } from '@connectrpc/connect-query';
import { type ReactNode, useId, useState } from 'react';
import { type ImportResponse, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { sentence } from '../transport';
import { Errors } from './Errors';
import { Heads, type Pairs } from './Heads';
import './imports.css';
import { readSheet } from './sheet';

const kinds = ['prospect', 'measurement', 'game', 'rep', 'evaluation'] as const;
const origins = ['listed', 'estimated', 'verified'] as const;
const most = 64 << 20;

/** What goes for the whole table. */
interface About {
  kind: string;
  source: string;
  /** Where its numbers come from, if no column says it. */
  origin: string;
  map: Pairs;
  fill: Pairs;
}

interface Table {
  file: string;
  data: Uint8Array<ArrayBuffer>;
  heads: readonly string[];
}

/** Brings a table in: first it says what would change, and what is wrong with which row. */
export function Imports() {
  const [about, setAbout] = useState<About>({ kind: 'prospect', source: '', origin: '', map: {}, fill: {} });
  const [table, setTable] = useState<Table>();
  const [trouble, setTrouble] = useState('');
  const preview = useMutation(LedgerService.method.import);
  const call = useMutation(LedgerService.method.import);
  const id = useId();

  const look = (next: About, read: Table | undefined) => {
    setAbout(next);
    call.reset();
    if (read) preview.mutate({ ...request(next, read), dryRun: true });
  };
  const choose = async (file: File | undefined) => {
    if (!file) return;
    setTrouble(file.size > most ? `${file.name} is larger than 64 MiB: split it.` : '');
    if (file.size > most) return;
    const data = new Uint8Array(await file.arrayBuffer());
    const read = { file: file.name, data, heads: readSheet(data, []).heads };
    setTable(read);
    // What was said of columns holds for those of this file only: the node refuses to map one that isn't there.
    const map = Object.fromEntries(Object.entries(about.map).filter(([head]) => read.heads.includes(head)));
    look({ ...about, map }, read);
  };
  const bring = (partial: boolean) => {
    if (table) call.mutate({ ...request(about, table), partial }, { onSuccess: (answer) => !answer.dryRun && setTable(undefined) });
  };

  const wrong = preview.data?.errors.length ?? 0;
  const error = call.error ?? preview.error;
  return (
    <main className="text-page imports">
      <h1>Import a table</h1>
      <p className="soft">CSV or a workbook’s first sheet, with a line of heads that name the fields. Nothing is stored before you say so.</p>
      <div className="form">
        <label htmlFor={`${id}kind`}>Each row is a</label>
        <select
          id={`${id}kind`}
          value={about.kind}
          onChange={(event) => look({ ...about, kind: event.target.value }, table)}
        >
          {kinds.map((one) => (
            <option key={one}>{one}</option>
          ))}
        </select>
        <label htmlFor={`${id}source`}>The list’s name</label>
        <input
          id={`${id}source`}
          placeholder="the same for all who import it, such as: class of 2027"
          value={about.source}
          onChange={(event) => setAbout({ ...about, source: event.target.value })}
          onBlur={() => look(about, table)}
        />
        <label htmlFor={`${id}origin`}>Its numbers are</label>
        <select id={`${id}origin`} value={about.origin} onChange={(event) => look({ ...about, origin: event.target.value }, table)}>
          <option value="">as a column says</option>
          {origins.map((one) => (
            <option key={one}>{one}</option>
          ))}
        </select>
        <label htmlFor={`${id}file`}>File</label>
        <input id={`${id}file`} type="file" accept=".csv,text/csv,.xlsx" onChange={(event) => void choose(event.target.files?.[0])} />
      </div>
      {table && (
        <Heads
          kind={about.kind}
          heads={table.heads}
          map={about.map}
          onMap={(map) => look({ ...about, map }, table)}
          fill={about.fill}
          onFill={(fill) => look({ ...about, fill }, table)}
        />
      )}
      {trouble && <p className="notice">{trouble}</p>}
      {error && <p className="notice">{sentence(error)}</p>}
      {call.data && !call.data.dryRun ? (
        <Changes answer={call.data} title="✓ Saved" />
      ) : (
        table &&
        preview.data && (
          <Changes answer={preview.data} data={table.data} title={`${table.file} would change`}>
            <button type="button" className="main" disabled={wrong > 0 || call.isPending} onClick={() => bring(false)}>
              Import
            </button>
            {wrong > 0 && (
              <button type="button" disabled={call.isPending} onClick={() => bring(true)}>
                Import the rows that are right
              </button>
            )}
          </Changes>
        )
      )}
    </main>
  );
}

function request({ kind, source, origin, map, fill }: About, { file, data }: Table) {
  const defaults: { [field: string]: string } = origin === '' ? { ...fill } : { source: origin, ...fill };
  return { kind, source, file, data, headers: { ...map }, defaults };
}

interface ChangesProps {
  answer: ImportResponse;
  data?: Uint8Array;
  title: string;
  children?: ReactNode;
}

/** What a table changes, and what is wrong with it, row by row. */
function Changes({ answer, data, title, children }: ChangesProps) {
  const figures: [number, string][] = [
    [answer.rows, 'rows'],
    [answer.added, 'values added'],
    [answer.changed, 'changed'],
    [answer.unchanged, 'as they were'],
    [answer.conflicts, 'beside others’'],
    [answer.skipped, 'rows left out'],
  ];
  return (
    <section aria-live="polite">
      <h2>{title}</h2>
      <dl className="figures">
        {figures.map(([n, name]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{n}</dd>
          </div>
        ))}
      </dl>
      {answer.remarks.length > 0 && (
        <ul className="notice">
          {answer.remarks.map((remark) => (
            <li key={remark}>{remark}</li>
          ))}
        </ul>
      )}
      {answer.errors.length > 0 && <Errors errors={answer.errors} data={data} />}
      {children && <p className="answers">{children}</p>}
    </section>
  );
}
