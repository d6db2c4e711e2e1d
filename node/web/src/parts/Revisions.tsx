import type { Revision } from '../gen/plumbline/v1/record_pb';
import { minute } from './dates';
import { count, plainName } from './words';
import { onPage } from '../transport';
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
            <b>{one.personName || 'unknown'}</b> <span className="soft whole">{minute(one.written)}</span>,{' '}
            {[nameOf(one, about), saidIn(one, about)].filter(Boolean).join(': ')}
          </li>
        ))}
      </ul>
      {total > of.length && <p className="soft">And {count(total - of.length, 'entry', 'entries')} more.</p>}
    </section>
  );
}

const acts: { [act: string]: string } = { retirement: 'retired it', keep: 'kept it' };

/**
 * What an entry is on. The record that all of it is about goes without saying; what has no name of its own is called by its
 * kind, since an id would tell nobody anything, and so is a note, whose text follows.
 */
export function nameOf({ title, kind, says, control }: Revision, about = ''): string {
  if (says !== '') return control ? 'the staff' : 'the laptop';
  if (about !== '' && title === about) return '';
  if (title === '' || kind === 'note' || isId(title, kind)) return plainName(kind);
  return about === '' ? title : title.replace(`${about}, `, '').replace(`, ${about}`, '');
}

/** The node calls what has no name by its kind and the end of its id. */
const isId = (title: string, kind: string) => title.startsWith(`${kind} `) && /^[a-z2-7]{8}$/.test(title.slice(kind.length + 1));

/** What an entry says, in words; what only refers to the record it is about goes without saying. */
export function saidIn({ act, fields, says }: Revision, about = ''): string {
  if (says !== '') return onPage(says);
  if (fields.length === 0) return acts[act] ?? act;
  const told = fields.filter((field) => about === '' || field.text !== about);
  return (told.length > 0 ? told : fields).map(change).join('; ');
}

/** A field and what it became. Of a text nobody asks what it is. */
function change({ name, text, cleared }: Revision['fields'][number]): string {
  if (cleared) return `${plainName(name)}: cleared`;
  return name === 'text' ? text : `${plainName(name)}: ${text.replaceAll('_', ' ')}`;
}
