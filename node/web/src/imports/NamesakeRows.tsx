import { Link } from '@tanstack/react-router';
import { type ImportResponse, Namesakes } from '../gen/plumbline/v1/ledger_pb';
import { count } from '../parts/words';

interface Props {
  answer: ImportResponse | undefined;
  /** What was said of such rows. */
  said: Namesakes;
  isBusy: boolean;
  onSay: (said: Namesakes) => void;
}

/** Rows with the name of a prospect who is here: the same player or another one, only a person knows. */
export function NamesakeRows({ answer, said, isBusy, onSay }: Props) {
  const rows = answer?.namesakeRows ?? 0;
  if (said !== Namesakes.UNSPECIFIED) {
    return (
      <p className="namesakes-said">
        Rows with the name of a prospect who is here are {said === Namesakes.MATCH ? 'about that player' : 'other players of that name'}.{' '}
        <button type="button" disabled={isBusy} onClick={() => onSay(Namesakes.UNSPECIFIED)}>
          Ask again
        </button>
      </p>
    );
  }
  if (!answer || rows === 0) return null;
  const left = rows - new Set(answer.namesakes.map(({ line }) => line)).size;
  return (
    <section className="namesakes" aria-label="Rows with the name of a prospect who is here">
      <h2 className="differs">≠ {count(rows, 'row has', 'rows have')} the name of a prospect who is here</h2>
      <p className="soft">
        Two players may share a name, so say what they are. Where they are some of each, a column “record” says it row by row: the id that stands here,
        or “new”.
      </p>
      <div className="wide">
        <table className="book">
          <thead>
            <tr>
              <th className="number">Row</th>
              <th>The table</th>
              <th>Here</th>
              <th>Id</th>
            </tr>
          </thead>
          <tbody>
            {answer.namesakes.map((one) => (
              <tr key={`${one.line}/${one.record}`}>
                <td className="number">{one.line}</td>
                <th scope="row">{one.row}</th>
                <td>
                  <Link to="/prospects/$id" params={{ id: one.record }} target="_blank">
                    {one.standing}
                  </Link>
                </td>
                <td className="fine soft">{one.record}</td>
              </tr>
            ))}
          </tbody>
        </table>
        {left > 0 && <p className="soft">And {count(left, 'row')} more.</p>}
      </div>
      <p className="answers">
        <button type="button" disabled={isBusy} onClick={() => onSay(Namesakes.MATCH)}>
          They are the same players
        </button>
        <button type="button" disabled={isBusy} onClick={() => onSay(Namesakes.NEW)}>
          They are others of that name
        </button>
      </p>
    </section>
  );
}
