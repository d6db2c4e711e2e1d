import { useState } from 'react';
import type { Draft } from '../form/draft';
import { dayOf } from '../form/days';
import { RecordForm } from '../form/RecordForm';
import { article, useRights } from '../form/rights';
import type { Offered } from '../form/words';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { plainName } from '../parts/words';
import { ofKind, referenceIn, textIn } from './fields';
import { useOpen } from './open';

interface Props {
  /** The kinds whose forms belong here. */
  kinds: readonly string[];
  prospect: Record;
  related: readonly Record[];
}

/** The form that is open, where its kind has its place on the page. */
export function Forms({ kinds, prospect, related }: Props) {
  const [open, go] = useOpen();
  const changed = related.find((one) => one.id === open.change);
  const kind = changed?.kind ?? open.add ?? '';
  if (!kinds.includes(kind)) return null;
  const close = () => go(open.look ? { look: open.look } : {});
  if (changed) return <Changing key={changed.id} record={changed} prospect={prospect} related={related} onClose={close} />;
  return <Adding key={`${kind} ${open.to ?? ''}`} kind={kind} to={open.to ?? ''} prospect={prospect} related={related} onClose={close} />;
}

interface OneProps {
  prospect: Record;
  related: readonly Record[];
  onClose: () => void;
}

function Changing({ record, prospect, related, onClose }: OneProps & { record: Record }) {
  const kind = useRights().kindOf(record.kind);
  if (!kind) return null;
  return (
    <RecordForm
      kind={kind}
      about={record.id}
      title={`Change the ${plainName(record.kind)}`}
      record={record}
      without={[...places, 'filed']}
      among={offers(related)}
      position={textIn(prospect, 'position')}
      onSaved={onClose}
      onLeave={onClose}
    />
  );
}

/** What a record stands under; moving it elsewhere is no matter of this page. */
const places = ['prospect', 'look', 'evaluation'];

function Adding({ kind: name, to, prospect, related, onClose }: OneProps & { kind: string; to: string }) {
  const [saved, setSaved] = useState(0);
  const [before, setBefore] = useState<Draft['typed']>({});
  const kind = useRights().kindOf(name);
  const under = related.find((one) => one.id === to);
  if (!kind) return null;
  const isRep = name === 'rep';
  const whom = isRep ? 'look' : name === 'claim' ? 'evaluation' : 'prospect';
  const about = under ?? prospect;
  return (
    <RecordForm
      key={saved}
      kind={kind}
      about={`new/${name}/${about.id}`}
      title={isRep ? 'The next rep' : `Add ${article(name)} ${plainName(name)}`}
      fixed={{ [whom]: { text: about.title, ids: [about.id] } }}
      given={given(name, related, to, before)}
      without={name === 'note' || name === 'look' ? ['filed'] : ['filed', 'look']}
      among={offers(related)}
      position={textIn(prospect, 'position')}
      first={isRep ? 'clock' : ''}
      onSaved={(_, typed) => {
        setBefore(typed);
        if (isRep) setSaved(saved + 1);
        else onClose();
      }}
      onLeave={onClose}
    />
  );
}

/** What holds from one rep to the next until somebody says otherwise. */
const carried = ['quarter', 'side', 'opponent_jersey', 'opponent_name'];

function given(kind: string, related: readonly Record[], look: string, before: Draft['typed']): Draft['typed'] {
  const today = { text: dayOf(new Date()) };
  if (kind === 'look') return { mode: { text: 'film' }, date: today };
  if (kind === 'note') return { date: today };
  if (kind !== 'rep') return {};
  const reps = ofKind(related, 'rep').filter((rep) => referenceIn(rep, 'look') === look);
  const numbers = [...reps.map((rep) => textIn(rep, 'number')), before.number?.text ?? ''].map(Number);
  const last = reps.at(-1);
  const held = carried.map((name) => [name, before[name] ?? { text: last ? textIn(last, name) : '' }] as const);
  return { number: { text: String(Math.max(0, ...numbers) + 1) }, ...Object.fromEntries(held.filter(([, typed]) => typed.text !== '')) };
}

/** What a claim may point to, and a note: his reps and looks, as the page shows them. */
function offers(related: readonly Record[]): { [field: string]: readonly Offered[] } {
  const words = (record: Record, names: readonly string[]) => names.map((name) => plainName(textIn(record, name))).filter((text) => text !== '');
  const games = new Map(ofKind(related, 'look').map((look) => [look.id, textIn(look, 'game') || 'no game named']));
  return {
    reps: ofKind(related, 'rep').map((rep) => ({
      id: rep.id,
      text: `rep ${textIn(rep, 'number')}, ${games.get(referenceIn(rep, 'look')) ?? ''}`,
      aside: words(rep, ['move', 'result']).join(', '),
    })),
    look: ofKind(related, 'look').map((look) => ({ id: look.id, text: games.get(look.id) ?? '', aside: words(look, ['mode', 'date']).join(', ') })),
  };
}
