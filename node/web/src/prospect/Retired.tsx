import { useQuery } from '@connectrpc/connect-query';
import { useState } from 'react';
import { Acts } from '../form/Acts';
import { Drawn, useRetire } from '../form/Retire';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { type Record, Visibility } from '../gen/plumbline/v1/record_pb';
import { Dated } from '../parts/Dated';
import { Wide } from '../parts/Wide';

/** What was retired of what refers to him, and the way to keep it again. */
export function Retired({ prospect }: { prospect: Record }) {
  const [isShown, setShown] = useState(false);
  const retire = useRetire();
  const answer = useQuery(LedgerService.method.get, { record: prospect.id, hidden: true }, { enabled: isShown }).data;
  const retired = answer?.related.filter((one) => one.visibility === Visibility.HIDDEN);
  return (
    <>
      <p className="part-acts">
        <button type="button" aria-expanded={isShown} onClick={() => setShown(!isShown)}>
          {isShown ? 'Hide' : 'Show'} what was retired
        </button>
        <button type="button" onClick={() => retire(prospect)}>
          {prospect.visibility === Visibility.HIDDEN ? 'Keep him again' : 'Retire him'} <kbd>x</kbd>
        </button>
      </p>
      {retired?.length === 0 && <p className="soft">Nothing was.</p>}
      {answer && retired && retired.length > 0 && (
        <Drawn value={answer.asOf}>
          <Wide of="Retired">
            <table className="book retired">
              <tbody>
                {retired.map((one) => (
                  <tr key={one.id}>
                    <th scope="row" className="word">
                      <Dated text={one.title} />
                    </th>
                    <td className="acts-cell">
                      <Acts record={one} name={one.title} />
                    </td>
                  </tr>
                ))}
              </tbody>
            </table>
          </Wide>
        </Drawn>
      )}
    </>
  );
}
