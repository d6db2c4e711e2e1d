import { useMutation, useQuery } from '@connectrpc/connect-query';
import { keepPreviousData, useQueryClient } from '@tanstack/react-query';
import { createContext, type ReactNode, useContext, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { type Record, Visibility } from '../gen/plumbline/v1/record_pb';
import { rereadRecords } from '../live/refresh';
import { Revisions } from '../parts/Revisions';
import { useSay } from '../parts/Said';
import { Sure } from '../parts/Sure';
import { count, plainName } from '../parts/words';
import { sentence } from '../transport';

const RetireContext = createContext<(record: Record, asOf: string) => void>(() => undefined);

/** Up to where that was read which is drawn around: who retires something there has read no further. */
export const Drawn = createContext('');

/** Asks whether a record is to be retired, as it is drawn; one that is retired is kept at once. */
export function useRetire(): (record: Record, asOf?: string) => void {
  const ask = useContext(RetireContext);
  const drawn = useContext(Drawn);
  return (record, asOf = drawn) => ask(record, asOf);
}

interface Question {
  record: Record;
  asOf: string;
}

/** Retiring hides and deletes nothing, so keeping it again needs no question. */
export function RetireProvider({ children }: { children: ReactNode }) {
  const [asked, setAsked] = useState<Question>();
  const keep = useMutation(LedgerService.method.keep);
  const say = useSay();
  const ask = (record: Record, asOf: string) => {
    if (record.visibility !== Visibility.HIDDEN) return setAsked({ record, asOf });
    keep.mutate(
      { record: record.id, asOf },
      { onSuccess: () => say(`✓ kept: ${record.title}`), onError: (error) => say(`Not kept: ${sentence(error)}`, 'refused') },
    );
  };
  return (
    <RetireContext value={ask}>
      {children}
      {asked && <Asked {...asked} onClose={() => setAsked(undefined)} />}
    </RetireContext>
  );
}

/** What came in since it was drawn isn't retired with the rest: it is shown, and the person is asked again. */
function Asked({ record, asOf, onClose }: Question & { onClose: () => void }) {
  const [read, setRead] = useState(asOf);
  const [isLate, setLate] = useState(false);
  const answer = useQuery(LedgerService.method.get, { record: record.id, since: read }, { placeholderData: keepPreviousData });
  const { data, isPlaceholderData } = answer;
  const call = useMutation(LedgerService.method.retire);
  const queries = useQueryClient();
  const say = useSay();
  const arrived = isPlaceholderData ? undefined : data?.arrived;
  const onRetired = async (unread: number) => {
    if (unread === 0) {
      say(`✓ retired: ${record.title}`);
      return onClose();
    }
    await rereadRecords(queries); // it came in just then, and is to be shown
    setLate(true);
  };
  const onYes = () => {
    if (!data) return;
    if (arrived) return setRead(data.asOf);
    setLate(false);
    call.mutate({ record: record.id, asOf: read }, { onSuccess: ({ unread }) => onRetired(unread?.total ?? 0) });
  };
  const others = counted(data?.related ?? []);
  const goes = others === '' ? '' : ` Out of sight with it: ${others}.`;
  const error = call.error ?? answer.error;
  return (
    <Sure
      question={{
        title: `Retire ${record.title}?`,
        text: `Lists leave it out, on every laptop.${goes} Nothing is deleted: “keep” brings it back. If somebody wrote something on it that you haven’t read, it stays in sight, among the conflicts.`,
        yes: arrived ? 'I have read it' : 'Retire it',
      }}
      trouble={error ? sentence(error) : ''}
      isBusy={call.isPending || !data || isPlaceholderData}
      onYes={onYes}
      onNo={onClose}
    >
      {arrived && (
        <>
          <p className="just" role="status">
            {isLate ? '▲ It stays in sight, since this had just arrived:' : '▲ This has just arrived. Read it first:'}
          </p>
          <Revisions of={arrived.revisions} total={arrived.total} label="What just arrived" about={record.title} />
        </>
      )}
    </Sure>
  );
}

/** What refers to a record, by kind: "2 looks, 31 reps". */
function counted(related: readonly Record[]): string {
  const kinds = [...new Set(related.map((one) => one.kind))];
  return kinds.map((kind) => count(related.filter((one) => one.kind === kind).length, plainName(kind))).join(', ');
}
