import { useQuery } from '@connectrpc/connect-query';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Revision } from '../gen/plumbline/v1/record_pb';
import { minute } from '../parts/dates';
import { count, plainName } from '../parts/words';

const most = 100;

const reasons: { [status: string]: string } = {
  'set aside': 'written after its laptop’s standing ended, as this laptop knows it',
  'no right': 'its author may not write to that record',
  erased: 'a director erased it',
  unread: 'this program can’t read it: it is newer',
};

/** Entries that are kept and count for nothing, and why. */
export function Aside({ total }: { total: number }) {
  const revisions = useQuery(LedgerService.method.setAside, { limit: most }, { enabled: total > 0 }).data?.revisions ?? [];
  if (total === 0) return null;
  return (
    <section aria-labelledby="aside-title">
      <h2 id="aside-title">{count(total, 'entry', 'entries')} kept that {total === 1 ? 'doesn’t' : 'don’t'} count</h2>
      <table className="book">
        <thead>
          <tr>
            <th>Written</th>
            <th>Person</th>
            <th>What</th>
            <th>Why it doesn’t count</th>
          </tr>
        </thead>
        <tbody>
          {revisions.map((one) => (
            <tr key={one.id}>
              <td>{minute(one.written)}</td>
              <td>{one.personName || 'unknown'}</td>
              <td>{said(one)}</td>
              <td>{reasons[one.status] ?? one.status}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {revisions.length < total && revisions.length > 0 && <p className="soft">And {total - revisions.length} more.</p>}
    </section>
  );
}

function said({ act, fields }: Revision): string {
  if (fields.length === 0) return act;
  return fields.map((field) => `${plainName(field.name)}: ${field.cleared ? 'cleared' : field.text}`).join('; ');
}
