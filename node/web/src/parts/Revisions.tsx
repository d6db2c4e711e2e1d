import type { Revision } from '../gen/plumbline/v1/record_pb';
import { minute } from './dates';
import { count, plainName } from './words';
import './revisions.css';

/** What people did, one line each: who, when, on what, and what it says. */
export function Revisions({ of, total, label }: { of: readonly Revision[]; total: number; label: string }) {
  return (
    <section className="revisions" aria-label={label} tabIndex={0}>
      <ul>
        {of.map((one) => (
          <li key={one.id}>
            <b>{one.personName || 'unknown'}</b> <span className="soft">{minute(one.written)}</span>, {one.title || plainName(one.kind)}:{' '}
            {saidIn(one)}
          </li>
        ))}
      </ul>
      {total > of.length && <p className="soft">And {count(total - of.length, 'entry', 'entries')} more.</p>}
    </section>
  );
}

const acts: { [act: string]: string } = { retirement: 'retired it', keep: 'kept it' };

/** What an entry says, in words. */
export function saidIn({ act, fields }: Revision): string {
  if (fields.length === 0) return acts[act] ?? act;
  return fields.map((field) => `${plainName(field.name)}: ${field.cleared ? 'cleared' : field.text.replaceAll('_', ' ')}`).join('; ');
}
