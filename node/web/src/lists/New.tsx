import { useNavigate, useParams } from '@tanstack/react-router';
import { dayOf } from '../form/days';
import { RecordForm } from '../form/RecordForm';
import { article, useRights } from '../form/rights';
import { placeOf } from '../parts/place';
import { plainName } from '../parts/words';
import './lists.css';

/** A new record on a page of its own: a prospect, a game, whatever stands under nothing else. */
export function New() {
  const { kind: name } = useParams({ from: '/new/$kind' });
  const navigate = useNavigate();
  const rights = useRights();
  const kind = rights.kindOf(name);
  const toList = () => void (name === 'prospect' ? navigate({ to: '/' }) : navigate({ to: '/lists/$kind', params: { kind: name } }));
  if (!kind) return <main className="text-page" aria-busy="true" />;
  const why = rights.whyNot(name);
  const called = plainName(name);
  return (
    <main className="text-page lists">
      <h1>
        A new {called}
      </h1>
      {why ? (
        <p className="notice">{why}</p>
      ) : (
        <RecordForm
          kind={kind}
          about={`new/${name}`}
          title={`Add ${article(called)} ${called}`}
          isAlone
          given={name === 'game' ? { date: { text: dayOf(new Date()) } } : {}}
          without={['filed']}
          onSaved={(id) => void navigate({ ...placeOf(name, id), replace: true })}
          onLeave={toList}
        />
      )}
    </main>
  );
}
