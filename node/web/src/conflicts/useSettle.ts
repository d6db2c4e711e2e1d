import { useMutation } from '@connectrpc/connect-query';
import { type Conflict, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { useState } from 'react';
import type { Choices } from './choices';
import { identify } from './identify';

interface Answer {
  choose?: string;
  text?: string;
  clear?: boolean;
}

/** What came of it. */
export interface Settled {
  text: string;
  /** Another value had arrived that wasn't on screen: the node keeps both, and there is a conflict still. */
  isOpen: boolean;
}

/**
 * Settles a conflict. The values on screen are replaced, no others. What arrived since the reader last did something may not
 * have been looked at: then nothing is saved, and the reader is told.
 */
export function useSettle(conflict: Conflict | undefined, choices: Choices, onSettled: (settled: Settled) => void) {
  const call = useMutation(LedgerService.method.settle);
  const keep = useMutation(LedgerService.method.keep);
  const retire = useMutation(LedgerService.method.retire);
  const same = useMutation(LedgerService.method.same);
  const name = conflict?.field?.name ?? '';
  const [surprised, setSurprised] = useState('');
  const about = conflict ? identify(conflict) : '';
  const read = useRead(about, conflict?.asOf ?? '');
  const hasNew = choices.hasNew || read.hasNew;

  const isUnseen = () => {
    setSurprised(hasNew ? about : '');
    if (hasNew) choices.takeIn();
    if (hasNew) read.takeIn();
    return hasNew;
  };
  const settle = (answer: Answer, text: string, then?: () => void) => {
    if (!conflict?.field || isUnseen()) return;
    const seen = choices.all.flatMap((one) => one.writers.map((value) => value.id));
    call.mutate(
      { record: conflict.record, field: name, seen, ...answer },
      {
        onSuccess: ({ record }) => {
          then?.();
          onSettled({ text, isOpen: isInConflict(record, name) });
        },
      },
    );
  };
  const answerRetirement = (number: number) => {
    if (!conflict || number > 2 || isUnseen()) return;
    const as = { record: conflict.record, asOf: conflict.asOf };
    if (number === 1) return keep.mutate(as, { onSuccess: () => onSettled({ text: 'it stays', isOpen: false }) });
    retire.mutate(as, { onSuccess: ({ unread }) => onSettled({ text: 'it is retired', isOpen: (unread?.total ?? 0) > 0 }) });
  };
  const answerTorn = (number: number) => {
    if (!conflict || number > 2) return;
    const [first, second, text] = [conflict.record, conflict.other, number === 1 ? 'they are one' : 'they are two'];
    const seen = conflict.said.map((one) => one.id);
    same.mutate({ first, second, apart: number === 2, seen }, { onSuccess: () => onSettled({ text, isOpen: false }) });
  };
  const choose = (number: number) => {
    if (conflict?.about === 'retirement') return answerRetirement(number);
    if (conflict?.about === 'same') return answerTorn(number);
    const choice = choices.all[number - 1];
    const value = choice?.writers[0];
    if (choice && value) settle(value.cleared ? { clear: true } : { choose: value.id }, choice.text);
  };
  return {
    error: call.error ?? keep.error ?? retire.error ?? same.error,
    /** A value arrived between looking and pressing: it stands there now, and nothing was saved. */
    isSurprised: surprised !== '' && surprised === about,
    /** Something came in on a record in dispute that the reader hasn't answered to yet. */
    hasMore: read.hasNew,
    choose,
    /** Writes another value, and says when it is saved. */
    write: (text: string, then: () => void) => settle({ text }, text, then),
  };
}

/** Up to where the reader has read what is shown: from what it was at first, further only when they are told. */
function useRead(about: string, asOf: string) {
  const [held, setHeld] = useState({ about, asOf });
  const now = held.about === about ? held : { about, asOf };
  if (now !== held) setHeld(now);
  return { hasNew: now.asOf !== asOf, takeIn: () => setHeld({ about, asOf }) };
}

const isInConflict = (record: Record | undefined, name: string) =>
  record?.fields.find((field) => field.name === name)?.conflict ?? false;
