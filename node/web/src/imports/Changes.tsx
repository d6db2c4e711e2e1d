import type { ReactNode } from 'react';
import type { ImportedRecord, ImportResponse } from '../gen/plumbline/v1/ledger_pb';
import { plainName } from '../parts/words';
import { Errors } from './Errors';

interface Props {
  answer: ImportResponse;
  heads: readonly string[];
  title: string;
  children?: ReactNode;
}

/** What a table changes, record by record, and what is wrong with it, cell by cell. */
export function Changes({ answer, heads, title, children }: Props) {
  const figures: [number, string][] = [
    [answer.rows, 'rows'],
    [answer.added, 'records new'],
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
      <div className="problems">
        {answer.errors.length > 0 && <Errors errors={answer.errors} heads={heads} rows={answer.wrongRows} />}
        {children && <p className="answers">{children}</p>}
      </div>
      {answer.records.length > 0 && <Records answer={answer} />}
    </section>
  );
}

function Records({ answer }: { answer: ImportResponse }) {
  const left = answer.added + answer.changed - answer.records.length;
  return (
    <div className="wide">
      <table className="book told">
        <thead>
          <tr>
            <th className="number">Row</th>
            <th>Record</th>
            <th>What it writes</th>
          </tr>
        </thead>
        <tbody>
          {answer.records.map((one, i) => (
            <Told key={`${one.line}/${one.kind}/${i}`} record={one} />
          ))}
        </tbody>
      </table>
      {left > 0 && <p className="soft">And {left} more.</p>}
    </div>
  );
}

/** New ones in one line, changes with what stood there; what stays beside others' values is said. */
function Told({ record }: { record: ImportedRecord }) {
  return (
    <tr>
      <td className="number">{record.line}</td>
      <th scope="row">
        {record.title} <span className={record.title ? 'soft fine' : ''}>{`${record.added ? 'new ' : ''}${plainName(record.kind)}`}</span>
      </th>
      <td>
        {record.fields.map((field) => (
          <span key={field.name} className="told-field">
            <span className="soft">{plainName(field.name)}</span> {!record.added && <>{field.before || '—'} → </>}
            <b>{field.after.replaceAll('_', ' ')}</b>
            {field.beside && <span className="differs"> ≠ beside what others wrote</span>}
          </span>
        ))}
      </td>
    </tr>
  );
}
