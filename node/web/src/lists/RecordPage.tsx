import { create } from '@bufbuild/protobuf';
import { useQuery } from '@connectrpc/connect-query';
import { Link, useNavigate, useParams } from '@tanstack/react-router';
import { useState } from 'react';
import { Acts } from '../form/Acts';
import { RecordForm } from '../form/RecordForm';
import { Drawn, useRetire } from '../form/Retire';
import { useRights } from '../form/rights';
import { type FieldInfo, FieldInfoSchema, type KindInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { type Field, type Record, Visibility } from '../gen/plumbline/v1/record_pb';
import { useKeys } from '../keys/useKeys';
import { useSay } from '../parts/Said';
import { labelOf, plainName, plural } from '../parts/words';
import { History } from '../prospect/History';
import { Unsaved } from '../prospect/RecordFields';
import { sentence } from '../transport';
import { draftOf } from '../value/useDraft';
import { ValueEditor } from '../value/ValueEditor';
import { ValueView } from '../value/ValueView';
import './lists.css';

/** Any record: what stands in it, what refers to it, and how it came to be so. */
export function RecordPage() {
  const { id } = useParams({ from: '/records/$id' });
  const answer = useQuery(LedgerService.method.get, { record: id });
  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  if (!answer.data?.record) return <main className="text-page" aria-busy="true" />;
  return (
    <Drawn value={answer.data.asOf}>
      <OneRecord key={id} record={answer.data.record} related={answer.data.related} />
    </Drawn>
  );
}

function OneRecord({ record, related }: { record: Record; related: readonly Record[] }) {
  const [isChanging, setChanging] = useState(false);
  const [hasHistory, setHistory] = useState(false);
  const [goingOn, setGoingOn] = useState('');
  const navigate = useNavigate();
  const rights = useRights();
  const retire = useRetire();
  const say = useSay();
  const kind = rights.kindOf(record.kind);
  const why = rights.whyNot(record.kind, record);
  const isWord = (field: Field) => kind?.fields.some((info) => info.name === field.name && info.choices.length > 0);
  const change = () => (why ? say(why, 'refused') : setChanging(true));
  useKeys({
    changeRecord: change,
    retireRecord: () => (why ? say(why, 'refused') : retire(record)),
    backToRecords: () => void navigate({ to: '/lists/$kind', params: { kind: record.kind } }),
  });
  return (
    <main className="text-page lists">
      <p className="soft">
        <Link to="/lists/$kind" params={{ kind: record.kind }}>
          {plural(record.kind)}
        </Link>
      </p>
      <h1>{record.title}</h1>
      {record.visibility === Visibility.DISPUTED && (
        <p>
          <Link to="/conflicts" search={{ record: record.id }} className="differs">
            ≠ to settle: whether it is retired
          </Link>
        </p>
      )}
      {record.visibility === Visibility.HIDDEN && (
        <p className="notice">
          It was retired: lists leave it out.{' '}
          {why === '' && (
            <button type="button" onClick={() => retire(record)}>
              Keep it <kbd>x</kbd>
            </button>
          )}
        </p>
      )}
      {why !== '' && <p className="soft">{why}</p>}
      {isChanging && kind ? (
        <RecordForm
          kind={kind}
          about={record.id}
          title={`Change the ${plainName(record.kind)}`}
          record={record}
          without={['filed']}
          onSaved={() => setChanging(false)}
          onLeave={() => setChanging(false)}
        />
      ) : (
        <>
          <dl className="record">
            {record.fields.map((field) => (
              <div key={field.name}>
                <dt>{labelOf(field)}</dt>
                <dd>
                  {kind && goingOn === field.name ? (
                    <ValueEditor record={record.id} info={infoOf(kind, field)} field={field} onDone={() => setGoingOn('')} />
                  ) : (
                    <>
                      <ValueView
                        field={field}
                        by={record.personName}
                        show={(text, value) => (value.refersTo ? <Refers id={value.refersTo} field={field.name} text={text} /> : isWord(field) ? plainName(text) : text)}
                      />
                      {why === '' && <Unsaved about={draftOf(record.id, field.name)} label={labelOf(field)} onGoOn={() => setGoingOn(field.name)} />}
                    </>
                  )}
                </dd>
              </div>
            ))}
          </dl>
          <p className="part-acts">
            <Acts record={record} onChange={change} />
          </p>
        </>
      )}
      {related.length > 0 && (
        <section>
          <h2>What refers to it</h2>
          <ul className="refers">
            {related.map((one) => (
              <li key={one.id}>
                <Link to="/records/$id" params={{ id: one.id }}>
                  {one.title}
                </Link>{' '}
                <span className="soft fine">{plainName(one.kind)}</span>
              </li>
            ))}
          </ul>
        </section>
      )}
      <section>
        <h2>History</h2>
        <button type="button" aria-expanded={hasHistory} onClick={() => setHistory(!hasHistory)}>
          {hasHistory ? 'Hide' : 'Show'} every entry on it
        </button>
        {hasHistory && <History record={record.id} />}
      </section>
    </main>
  );
}

/** What the schema says of a field, which for one key of several is what it says of all. */
function infoOf(kind: KindInfo, { name, label }: Field): FieldInfo {
  const [base = ''] = name.split('.');
  const info = kind.fields.find((one) => one.name === base);
  return { ...(info ?? create(FieldInfoSchema)), name, label };
}

function Refers({ id, field, text }: { id: string; field: string; text: string }) {
  if (field === 'prospect') {
    return (
      <Link to="/prospects/$id" params={{ id }}>
        {text}
      </Link>
    );
  }
  return (
    <Link to="/records/$id" params={{ id }}>
      {text}
    </Link>
  );
}
