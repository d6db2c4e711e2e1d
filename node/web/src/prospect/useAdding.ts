import { useFile } from '../form/File';
import { useRights } from '../form/rights';
import type { Record } from '../gen/plumbline/v1/record_pb';
import type { Handlers } from '../keys/bound';
import { type Action, keymap } from '../keys/keymap';
import { useSay } from '../parts/Said';
import { textIn } from './fields';
import { useOpen } from './open';

/** One thing that can be added, by a button or by its keys. */
export interface Addition {
  text: string;
  keys: string;
  run: () => void;
}

/** What can be added to a prospect, for the buttons below each part and for the keys. Who may not is told why. */
export function useAdding(related: readonly Record[]) {
  const [open, go] = useOpen();
  const rights = useRights();
  const say = useSay();
  const file = useFile();
  const own = (kind: string) => related.filter((one) => one.kind === kind && one.person === rights.status?.person);
  const draft = own('evaluation').find((one) => textIn(one, 'filed') === '');
  const latest = [...own('look')].sort((a, b) => textIn(a, 'date').localeCompare(textIn(b, 'date'))).at(-1);

  const add = (kind: string, to?: string) => () => {
    const why = rights.whyNot(kind);
    if (why) say(why, 'refused');
    else go(to === undefined ? { add: kind } : { add: kind, to, ...(kind === 'rep' && { look: to }) });
  };
  const under = (kind: string, over: Record | undefined, lack: string) => (over ? add(kind, over.id) : () => say(lack, 'refused'));
  const evaluate = draft ? () => go({ change: draft.id }) : add('evaluation');
  const evaluation = draft ?? own('evaluation').at(-1);
  const keys = {
    addMeasurement: add('measurement'),
    addLook: add('look'),
    chart: under('rep', latest, 'Add a look first: a rep belongs to one.'),
    addEvaluation: evaluate,
    addClaim: under('claim', evaluation, 'Write your evaluation first: a claim belongs to one.'),
    addNote: add('note'),
    addFlag: add('flag'),
    addAssignment: add('assignment'),
    fileIt: () => (draft ? file(draft) : say('You have no evaluation that isn’t filed.', 'refused')),
    openLook: () => go(nextLook(related, open.look ?? '')),
  } satisfies Handlers;
  const act = (action: keyof typeof keys, text: string): Addition => ({ text, keys: keymap[action as Action].keys[0] ?? '', run: keys[action] });
  const isDirector = rights.whyNot('flag') === '';
  return {
    keys,
    measurement: [act('addMeasurement', 'Add a measurement')],
    looks: [act('addLook', 'Add a look'), ...(latest ? [act('chart', 'Chart reps')] : [])],
    evaluations: [act('addEvaluation', draft ? 'Go on with your evaluation' : 'Write your evaluation')],
    remarks: [act('addNote', 'Add a note'), ...(isDirector ? [act('addFlag', 'Add a flag'), act('addAssignment', 'Send somebody')] : [])],
  };
}

/** The look after the one that is open, and none after the last. */
function nextLook(related: readonly Record[], open: string) {
  const looks = related.filter((one) => one.kind === 'look').map((one) => one.id);
  const next = looks[looks.indexOf(open) + 1];
  return next ? { look: next } : {};
}
