import type { RowError } from '../gen/plumbline/v1/ledger_pb';
import { count } from '../parts/words';
import { readSheet } from './sheet';

const shown = 100;
/** How many of a row's first cells say which row it is. */
const naming = 3;

/** The rows that can't be read, with what is wrong at each cell. */
export function Errors({ errors, data }: { errors: readonly RowError[]; data: Uint8Array | undefined }) {
  const lines = [...new Set(errors.map((error) => error.line))].slice(0, shown);
  const sheet = data && readSheet(data, lines);
  const rows = new Map(sheet?.lines.map((row) => [row.line, row.cells]));
  const wrong = new Set(errors.map((error) => error.column));
  const heads = (sheet?.heads ?? []).map((head, index) => ({ head, index })).filter(({ head, index }) => index < naming || wrong.has(head));
  const isPlaced = (error: RowError) => heads.some(({ head }) => head === error.column);
  const hasOthers = errors.some((error) => !isPlaced(error));
  const left = errors.filter((error) => !lines.includes(error.line)).length;
  return (
    <>
      <h3 className="differs">✕ {count(errors.length, 'cell')} can’t be read</h3>
      <table className="book">
        <thead>
          <tr>
            <th className="number">Line</th>
            {heads.map(({ head, index }) => (
              <th key={index}>{head}</th>
            ))}
            {hasOthers && <th>The row</th>}
          </tr>
        </thead>
        <tbody>
          {lines.map((line) => {
            const own = errors.filter((error) => error.line === line);
            return (
              <tr key={line}>
                <td className="number">{own[0]?.cell || line}</td>
                {heads.map(({ head, index }) => (
                  <Cell key={index} text={rows.get(line)?.[index] ?? ''} errors={own.filter((error) => error.column === head)} />
                ))}
                {hasOthers && <Cell text="" errors={own.filter((error) => !isPlaced(error))} />}
              </tr>
            );
          })}
        </tbody>
      </table>
      {left > 0 && <p className="soft">And {left} more.</p>}
    </>
  );
}

function Cell({ text, errors }: { text: string; errors: readonly RowError[] }) {
  if (errors.length === 0) return <td className="soft">{text}</td>;
  return (
    <td className="wrong">
      <b>{errors[0]?.value || text}</b>
      {errors.map((error) => (
        <span key={error.rule} className="fine">
          ✕ {error.column !== '' && text === '' ? `${error.column}: ` : ''}
          {error.rule}
        </span>
      ))}
    </td>
  );
}
