import { Code, ConnectError, createClient } from '@connectrpc/connect';
import { useMutation, useTransport } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { useCallback, useEffect, useMemo, useRef, useState } from 'react';
import { type Checked, type KindInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { rereadRecords } from '../live/refresh';
import { fieldOf } from '../prospect/fields';
import { onPage, sentence } from '../transport';
import { useKept } from '../value/useKept';
import { changedMeanwhile, type Draft, emptyDraft, idsOf, keptOf, readDraft, standing, type Typed, writesOf } from './draft';

export interface About {
  kind: KindInfo;
  /** What the form is about, such as measurement/ID: its draft is found by it. */
  about: string;
  /** The record that is changed; none for a new one. */
  record?: Record | undefined;
  /** Fields that the place gives, such as the prospect on his page. */
  fixed: Draft['typed'];
  /** What a new record begins with. */
  given?: Draft['typed'] | undefined;
}

interface Saved {
  id?: string | undefined;
  wrong?: string | undefined;
}

/** How long typing pauses before the node is asked what it reads, in milliseconds. */
const pause = 250;

/** A form's draft, what the node says of it, and its saving. */
export function useForm({ kind, about, record, fixed, given }: About) {
  const [kept, keep] = useKept(`form/${about}`);
  const [fresh] = useState(emptyDraft);
  const draft = useMemo(() => readDraft(kept) ?? { ...fresh, typed: record ? {} : { ...given } }, [kept, fresh, given, record]);
  const [isTried, setTried] = useState(false);
  const [left, setLeft] = useState<ReadonlySet<string>>(new Set());
  const queries = useQueryClient();
  const write = useMutation(LedgerService.method.write);
  const target = record ? { record: record.id } : { kind: kind.name, newId: draft.newId };
  const isDisputed = (field: string) => (record && fieldOf(record, field)?.conflict) ?? false;
  const writes = writesOf(draft, record ? {} : fixed, record).filter(({ field }) => !isDisputed(field));
  const { checked, check, refusal } = useChecked(target, writes);
  const overtaken = changedMeanwhile(draft, record).filter((field) => !isDisputed(field));
  const [shown, setShown] = useState<readonly string[]>([]);
  const busy = useRef(false);

  const type = (field: string, typed: Typed) => {
    if (busy.current) return; // it would go with what is saved, and be in neither
    const seen = draft.seen[field] ?? idsOf(record && fieldOf(record, field));
    keep(JSON.stringify({ ...draft, typed: { ...draft.typed, [field]: typed }, seen: record ? { ...draft.seen, [field]: seen } : {} }));
  };
  /** What arrived meanwhile is on screen now: the next saving replaces it. */
  const seeAll = () => {
    const seen = Object.fromEntries(Object.keys(draft.seen).map((field) => [field, idsOf(record && fieldOf(record, field))]));
    keep(JSON.stringify({ ...draft, seen }));
  };
  /** What was typed for fields in conflict waits until these are settled. */
  const waiting = keptOf(draft, isDisputed);
  /** Saves, or says at which field it can't; both absent means that the reason stands below the form. */
  const saveOnce = async (): Promise<Saved> => {
    setTried(true);
    setShown(overtaken);
    if (overtaken.length > 0) {
      seeAll();
      return {};
    }
    if (record && writes.length === 0) return { id: record.id };
    const wrong = (await check())?.find((one) => one.wrong !== '');
    if (wrong) return { wrong: wrong.field };
    try {
      const { records } = await write.mutateAsync({ writes: [{ ...target, sets: writes }] });
      await rereadRecords(queries);
      keep(waiting);
      return { id: records[0] };
    } catch {
      return {};
    }
  };
  /** A key that is pressed twice saves once: the second time could take the next record's draft away. */
  const save = async (): Promise<Saved> => {
    if (busy.current) return {};
    busy.current = true;
    try {
      return await saveOnce();
    } finally {
      busy.current = false;
    }
  };
  const wrongAt = (field: string) => {
    const wrong = onPage(checked.find((one) => one.field === field)?.wrong ?? '');
    return isTried || (left.has(field) && draft.typed[field]?.text) ? wrong : '';
  };
  return {
    typedIn: (field: string): Typed => draft.typed[field] ?? standing(record, field),
    type,
    leave: (field: string) => setLeft(new Set([...left, field])),
    save,
    drop: () => keep(''),
    isBegun: kept !== '',
    /** Something was typed for this field. */
    isTyped: (field: string) => draft.typed[field] !== undefined,
    isSaving: write.isPending,
    /** Fields that others changed meanwhile: what stands there now is told, and stays in sight until it is replaced. */
    overtaken: [...new Set([...overtaken, ...shown])],
    wrongAt,
    readAs: (field: string) => checked.find((one) => one.field === field)?.text ?? '',
    trouble: write.error ? sentence(write.error) : refusal,
  };
}

interface Target {
  record?: string;
  kind?: string;
  newId?: string;
}

/** What the node reads in what was typed: once typing pauses, and when it is asked. */
function useChecked(target: Target, writes: ReturnType<typeof writesOf>) {
  const transport = useTransport();
  const [checked, setChecked] = useState<readonly Checked[]>([]);
  const [refusal, setRefusal] = useState('');
  const question = JSON.stringify([target, writes]);
  const check = useCallback(
    async (signal?: AbortSignal) => {
      const [about, sets] = JSON.parse(question) as [Target, ReturnType<typeof writesOf>];
      try {
        const options = signal ? { signal } : {};
        const { fields } = await createClient(LedgerService, transport).check({ write: { ...about, sets } }, options);
        setChecked(fields);
        setRefusal('');
        return fields;
      } catch (error) {
        if (isFinal(error)) setRefusal(sentence(error));
        return undefined;
      }
    },
    [question, transport],
  );
  useEffect(() => {
    const own = new AbortController();
    const timer = setTimeout(() => void check(own.signal), pause);
    return () => {
      clearTimeout(timer);
      own.abort();
    };
  }, [check]);
  return { checked, check, refusal };
}

/** Who may not write that, needs to know it before all is typed. A node that is away comes back. */
const isFinal = (error: unknown) => ConnectError.from(error).code === Code.PermissionDenied;
