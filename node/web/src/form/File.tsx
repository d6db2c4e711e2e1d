import { useMutation } from '@connectrpc/connect-query';
import { createContext, type ReactNode, useContext, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { useSay } from '../parts/Said';
import { Sure } from '../parts/Sure';
import { fieldOf } from '../prospect/fields';
import { sentence } from '../transport';
import { useUnsaved } from '../value/useKept';

const FileContext = createContext<(evaluation: Record) => void>(() => undefined);

/** Asks whether an evaluation is to be filed. */
export const useFile = () => useContext(FileContext);

export function FileProvider({ children }: { children: ReactNode }) {
  const [asked, setAsked] = useState<Record>();
  const call = useMutation(LedgerService.method.file);
  const say = useSay();
  const isUnsaved = useUnsaved(asked?.id ?? '-');
  const seen = (asked && fieldOf(asked, 'filed')?.values.map((one) => one.id)) ?? [];
  const close = () => {
    setAsked(undefined);
    call.reset();
  };
  return (
    <FileContext value={setAsked}>
      {children}
      {asked && (
        <Sure
          question={{
            title: 'File this evaluation?',
            text: `${isUnsaved ? unsaved : ''}From today it stands with your name. What you change later is a revision; the earlier text stays readable.`,
            yes: isUnsaved ? 'File it without that' : 'File it',
          }}
          trouble={call.error ? sentence(call.error) : ''}
          isBusy={call.isPending}
          onYes={() => call.mutate({ evaluation: asked.id, seen }, { onSuccess: () => (say('✓ filed'), close()) })}
          onNo={close}
        />
      )}
    </FileContext>
  );
}

const unsaved = '✎ You have typed something for it that isn’t saved, and wouldn’t be filed with it: leave this, and save it first. ';
