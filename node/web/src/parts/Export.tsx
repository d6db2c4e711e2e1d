import { useMutation } from '@connectrpc/connect-query';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { sentence } from '../transport';
import { useSay } from './Said';
import { count, plural } from './words';

/** A list as it stands on the screen. */
export interface Listed {
  kind: string;
  where: string;
  search: string;
  sort: readonly string[];
  columns: readonly string[];
  hidden: boolean;
}

const types = {
  csv: 'text/csv',
  xlsx: 'application/vnd.openxmlformats-officedocument.spreadsheetml.sheet',
} as const;
type Format = keyof typeof types;

/** Saves a list as a table, with all of its rows. What is written about people leaves the staff with the file: that is said. */
export function useExport() {
  const call = useMutation(LedgerService.method.export);
  const say = useSay();
  return (listed: Listed, format: Format) =>
    call.mutate(
      { ...listed, sort: [...listed.sort], columns: [...listed.columns], format },
      {
        onSuccess: ({ data, rows }) => {
          hand(data, `${plural(listed.kind)}.${format}`, types[format]);
          say(`✓ ${count(rows, 'row')} in ${plural(listed.kind)}.${format}. It holds opinions about real people: keep it as your staff’s rules say.`);
        },
        onError: (error) => say(`Not saved: ${sentence(error)}`, 'refused'),
      },
    );
}

export function Export(listed: Listed) {
  const save = useExport();
  return (
    <span className="export">
      <span className="soft fine">Save as</span>
      <button type="button" onClick={() => save(listed, 'csv')}>
        CSV
      </button>
      <button type="button" onClick={() => save(listed, 'xlsx')}>
        XLSX
      </button>
    </span>
  );
}

function hand(data: Uint8Array, name: string, type: string) {
  const address = URL.createObjectURL(new Blob([new Uint8Array(data)], { type }));
  const link = Object.assign(document.createElement('a'), { href: address, download: name });
  link.click();
  URL.revokeObjectURL(address);
}
