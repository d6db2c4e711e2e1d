import type { Revision } from '../gen/plumbline/v1/record_pb';
import { minute } from './dates';
import { count, plainName } from './words';
import './revisions.css';

interface Props {
  of: readonly Revision[];
  total: number;
  label: string;
  /** The title of the record that they are on or refer to, which needn't be said in each line. */
  about?: string;
}

/** What people did, one line each: who, when, on what, and what it says. */
export function Revisions({ of, total, label, about = '' }: Props) {
  return (
    <section className="revisions" aria-label={label} tabIndex={0}>
      <ul>
        {of.map((one) => (
          <li key={one.id}>
            <b>{one.personName || 'unknown'}</b> <span className="soft">{minute(one.written)}</span>, {nameOf(one)}: {saidIn(one, about)}
          </li>
        ))}
      </ul>
      {total > of.length && <p className="soft">And {count(total - of.length, 'entry', 'entries')} more.</p>}
    </section>
  );
}

const acts: { [act: string]: string } = { retirement: 'retired it', keep: 'kept it' };

/** What has no name of its own is called by its kind: an id would tell nobody anything. */
const nameOf = ({ title, kind }: Revision) => (title === '' || title.startsWith(`${kind} `) ? plainName(kind) : title);

/** What an entry says, in words; what only refers to the record it is about goes without saying. */
export function saidIn({ act, fields }: Revision, about = ''): string {
  if (fields.length === 0) return acts[act] ?? act;
  const told = fields.filter((field) => about === '' || field.text !== about);
  return (told.length > 0 ? told : fields).map((field) => `${plainName(field.name)}: ${field.cleared ? 'cleared' : field.text.replaceAll('_', ' ')}`).join('; ');
}
