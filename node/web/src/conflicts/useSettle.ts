import { useMutation } from '@connectrpc/connect-query';
import { type Conflict, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import type { Choice } from './choices';

/** What came of it. */
export interface Settled {
  text: string;
  /** Another value had arrived that wasn't on screen: the node keeps both, and there is a conflict still. */
  isOpen: boolean;
}

/** Settles a conflict. The values on screen are replaced, no others. */
export function useSettle(conflict: Conflict | undefined, choices: readonly Choice[], onSettled: (settled: Settled) => void) {
  const call = useMutation(LedgerService.method.settle);
  const keep = useMutation(LedgerService.method.keep);
  const retire = useMutation(LedgerService.method.retire);
  const same = useMutation(LedgerService.method.same);
  const name = conflict?.field?.name ?? '';

  const settle = (answer: { choose?: string; text?: string; clear?: boolean }, text: string) => {
    if (!conflict?.field) return;
    const seen = conflict.field.values.map((value) => value.id);
    call.mutate(
      { record: conflict.record, field: name, seen, ...answer },
      { onSuccess: ({ record }) => onSettled({ text, isOpen: isInConflict(record, name) }) },
    );
  };
  const answerRetirement = (number: number) => {
    const [what, text] = number === 1 ? [keep, 'it stays'] : [retire, 'it is retired'];
    if (conflict && number <= 2) what.mutate({ record: conflict.record }, { onSuccess: () => onSettled({ text, isOpen: false }) });
  };
  const answerTorn = (number: number) => {
    if (!conflict || number > 2) return;
    const [first, second, text] = [conflict.record, conflict.other, number === 1 ? 'they are one' : 'they are two'];
    same.mutate({ first, second, apart: number === 2 }, { onSuccess: () => onSettled({ text, isOpen: false }) });
  };
  const choose = (number: number) => {
    if (conflict?.about === 'retirement') return answerRetirement(number);
    if (conflict?.about === 'same') return answerTorn(number);
    const choice = choices[number - 1];
    const value = choice?.writers[0];
    if (choice && value) settle(value.cleared ? { clear: true } : { choose: value.id }, choice.text);
  };
  return { error: call.error ?? keep.error ?? retire.error ?? same.error, choose, write: (text: string) => settle({ text }, text) };
}

const isInConflict = (record: Record | undefined, name: string) =>
  record?.fields.find((field) => field.name === name)?.conflict ?? false;
