import type { Conflict } from '../gen/plumbline/v1/ledger_pb';

/** What names a conflict while its values come and go. */
export const identify = (conflict: Conflict) => `${conflict.about}/${conflict.record}/${conflict.field?.name ?? conflict.other}`;
