import { useQuery } from '@connectrpc/connect-query';
import { useState } from 'react';
import { type FieldInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { useRights } from '../form/rights';
import { plainName } from '../parts/words';
import { draftOf, useDraft } from '../value/useDraft';
import { ValueEditor } from '../value/ValueEditor';
import { ValueView } from '../value/ValueView';
import { fieldOf } from './fields';

/** The fields of a record, each with its origin, and the way to change it. Which there are, the schema says. */
export function RecordFields({ record }: { record: Record }) {
  const schema = useQuery(LedgerService.method.schema, {}).data;
  const [editing, setEditing] = useState('');
  const [saved, setSaved] = useState('');
  const why = useRights().whyNot(record.kind, record);
  const fields = schema?.kinds.find((kind) => kind.name === record.kind)?.fields ?? [];
  const done = (name: string, wasSaved: boolean) => {
    setEditing('');
    setSaved(wasSaved ? name : '');
  };
  return (
    <>
    {why !== '' && <p className="soft fine">{why}</p>}
    <dl className="record">
      {fields.map((info) => (
        <Line
          key={info.name}
          why={why}
          record={record}
          info={info}
          isEditing={editing === info.name}
          isSaved={saved === info.name}
          onEdit={() => setEditing(info.name)}
          onDone={(wasSaved) => done(info.name, wasSaved)}
        />
      ))}
    </dl>
    </>
  );
}

interface LineProps {
  /** Why it can't be changed here; empty if it can. */
  why: string;
  record: Record;
  info: FieldInfo;
  isEditing: boolean;
  isSaved: boolean;
  onEdit: () => void;
  onDone: (wasSaved: boolean) => void;
}

function Line({ why, record, info, isEditing, isSaved, onEdit, onDone }: LineProps) {
  const field = fieldOf(record, info.name);
  const label = info.label || plainName(info.name);
  return (
    <div>
      <dt>{label}</dt>
      <dd>
        {isEditing ? (
          <ValueEditor record={record.id} info={info} field={field} onDone={onDone} />
        ) : (
          <>
            {field ? <ValueView field={field} /> : <span className="soft">—</span>}
            {isSaved && (
              <span className="saved fine" role="status">
                ✓ saved
              </span>
            )}
            {why === '' && <Unsaved about={draftOf(record.id, info.name)} label={label} onGoOn={onEdit} />}
            {why === '' && !field?.conflict && (
              <button type="button" className="edit fine" aria-label={`Change ${label}`} onClick={onEdit}>
                change
              </button>
            )}
          </>
        )}
      </dd>
    </div>
  );
}

/** What was typed and never saved. It stays until somebody goes on with it or drops it. */
export function Unsaved({ about, label, onGoOn }: { about: string; label: string; onGoOn: () => void }) {
  const { draft, drop } = useDraft(about);
  if (!draft) return null;
  return (
    <p className="unsaved fine">
      <b>✎ not saved yet:</b> <span className="value-text">{draft.text === '' ? '(cleared)' : draft.text}</span>
      <button type="button" aria-label={`Go on with ${label}`} onClick={onGoOn}>
        Go on
      </button>
      <button type="button" aria-label={`Drop it, what was typed for ${label}`} onClick={drop}>
        Drop it
      </button>
    </p>
  );
}
