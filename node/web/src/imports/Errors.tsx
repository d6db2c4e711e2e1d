import type { RowError, TableRow } from '../gen/plumbline/v1/ledger_pb';
import { count } from '../parts/words';

interface Props {
  errors: readonly RowError[];
  heads: readonly string[];
  /** The rows that they are about, as they stand in the table. */
  rows: readonly TableRow[];
}

const shown = 100;
/** How many of a row's first cells say which row it is. */
const naming = 3;

/** The rows that can't be read, with what is wrong at each cell. */
export function Errors({ errors, heads, rows }: Props) {
  const lines = [...new Set(errors.map((error) => error.line))].slice(0, shown);
  const cells = new Map(rows.map((row) => [row.line, row.cells]));
  const wrong = new Set(errors.map((error) => error.column));
  const columns = heads.map((head, index) => ({ head, index })).filter(({ head, index }) => index < naming || wrong.has(head));
  const isPlaced = (error: RowError) => columns.some(({ head }) => head === error.column);
  const hasOthers = errors.some((error) => !isPlaced(error));
  const left = errors.filter((error) => !lines.includes(error.line)).length;
  return (
    <>
      <h3 className="differs">✕ {count(errors.length, 'cell')} can’t be read</h3>
      <div className="wide">
        <table className="book">
          <thead>
            <tr>
              <th className="number">Row</th>
              {columns.map(({ head, index }) => (
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
                  <td className="number">{line}</td>
                  {columns.map(({ head, index }) => (
                    <Cell key={index} text={cells.get(line)?.[index] ?? ''} errors={own.filter((error) => error.column === head)} />
                  ))}
                  {hasOthers && <Cell text="" errors={own.filter((error) => !isPlaced(error))} />}
                </tr>
              );
            })}
          </tbody>
        </table>
      </div>
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
          ✕ {error.cell && `${error.cell}: `}
          {error.column !== '' && text === '' && !error.cell ? `${error.column}: ` : ''}
          {error.rule}
        </span>
      ))}
    </td>
  );
}
