import { useMutation, useQuery } from '@connectrpc/connect-query';
import { createContext, type ReactNode, useContext, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { type Record, Visibility } from '../gen/plumbline/v1/record_pb';
import { useSay } from '../parts/Said';
import { Sure } from '../parts/Sure';
import { count, plainName } from '../parts/words';
import { sentence } from '../transport';

const RetireContext = createContext<(record: Record) => void>(() => undefined);

/** Asks whether a record is to be retired; one that is retired is kept at once. */
export const useRetire = () => useContext(RetireContext);

/** Retiring hides and deletes nothing, so keeping it again needs no question. */
export function RetireProvider({ children }: { children: ReactNode }) {
  const [asked, setAsked] = useState<Record>();
  const keep = useMutation(LedgerService.method.keep);
  const say = useSay();
  const ask = (record: Record) => {
    if (record.visibility !== Visibility.HIDDEN) return setAsked(record);
    keep.mutate(
      { record: record.id },
      { onSuccess: () => say(`✓ kept: ${record.title}`), onError: (error) => say(`Not kept: ${sentence(error)}`) },
    );
  };
  return (
    <RetireContext value={ask}>
      {children}
      {asked && <Asked record={asked} onClose={() => setAsked(undefined)} />}
    </RetireContext>
  );
}

function Asked({ record, onClose }: { record: Record; onClose: () => void }) {
  const answer = useQuery(LedgerService.method.get, { record: record.id });
  const { data } = answer;
  const call = useMutation(LedgerService.method.retire);
  const say = useSay();
  const [read, setRead] = useState<string>();
  const now = data && standing([...(data.record ? [data.record] : []), ...data.related]);
  // What arrives while one reads is shown before it is retired with the rest.
  const isNews = read !== undefined && now !== undefined && read !== now;
  if (read === undefined && now !== undefined) setRead(now);
  const retire = () => {
    if (isNews) return setRead(now);
    call.mutate({ record: record.id }, { onSuccess: () => (say(`✓ retired: ${record.title}`), onClose()) });
  };
  const others = counted(data?.related ?? []);
  const goes = others === '' ? 'Nothing else goes with it.' : `With it go out of sight: ${others}.`;
  const error = call.error ?? answer.error;
  return (
    <Sure
      question={{
        title: `Retire ${record.title}?`,
        text: `${isNews ? 'Something on it has just been written: look at it first, or go on. ' : ''}Lists leave it out, on every laptop. ${goes} Nothing is deleted: “keep” brings it back, and it stays in sight as long as somebody wrote something on it that isn’t here yet.`,
        yes: isNews ? 'I have seen what just arrived' : 'Retire it',
      }}
      trouble={error ? sentence(error) : ''}
      isBusy={call.isPending || data === undefined}
      onYes={retire}
      onNo={onClose}
    />
  );
}

/** Everything that stands in records, by the ids of its values: what is retired is what was there to be read. */
function standing(records: readonly Record[]): string {
  return records.map((one) => [one.id, ...one.fields.flatMap((field) => field.values.map((value) => value.id))].join(' ')).join('\n');
}

/** What refers to a record, by kind: "2 looks, 31 reps". */
function counted(related: readonly Record[]): string {
  const kinds = [...new Set(related.map((one) => one.kind))];
  return kinds.map((kind) => count(related.filter((one) => one.kind === kind).length, plainName(kind))).join(', ');
}
