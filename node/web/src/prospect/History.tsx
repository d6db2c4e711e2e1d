import { useQuery } from '@connectrpc/connect-query';
import { useEffect, useEffectEvent } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Revision } from '../gen/plumbline/v1/record_pb';
import { minute } from '../parts/dates';
import { plainName } from '../parts/words';
import { sentence } from '../transport';
import { Wide } from '../parts/Wide';

interface Props {
  record: string;
  /** Called once it stands there, at its full height. */
  onDrawn?: () => void;
}

/** Every entry on the record, the newest first, also those that don't count. */
export function History({ record, onDrawn }: Props) {
  const answer = useQuery(LedgerService.method.history, { record });
  const isDrawn = !answer.isPending;
  const drawn = useEffectEvent(() => onDrawn?.());
  useEffect(() => {
    if (isDrawn) drawn();
  }, [isDrawn]);
  if (answer.error) return <p className="notice">{sentence(answer.error)}</p>;
  return (
    <Wide of="History">
      <table className="book history">
        <thead>
          <tr>
            <th>Written</th>
            <th>By</th>
            <th>What</th>
            <th>From</th>
          </tr>
        </thead>
        <tbody>
          {[...(answer.data?.revisions ?? [])].reverse().map((revision) => (
            <Line key={revision.id} revision={revision} />
          ))}
        </tbody>
      </table>
    </Wide>
  );
}

function Line({ revision }: { revision: Revision }) {
  return (
    <tr>
      <td>{minute(revision.written)}</td>
      <td>{revision.personName || 'unknown'}</td>
      <td>
        {revision.status !== 'applied' && <b className="differs">{revision.status}: </b>}
        {revision.fields.length === 0
          ? revision.act
          : revision.fields.map((field) => (
              <span key={field.name} className="change">
                {plainName(field.name)} <b>{field.cleared ? '(cleared)' : field.text}</b>
                {field.replaces.length > 0 && <span className="soft"> in place of what stood there</span>}
              </span>
            ))}
      </td>
      <td className="soft">{revision.source || 'by hand'}</td>
    </tr>
  );
}
