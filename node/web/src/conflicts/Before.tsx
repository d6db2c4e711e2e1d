import type { Value } from '../gen/plumbline/v1/record_pb';
import { textOf } from '../value/distinct';
import { Origin } from '../value/ValueView';

/** What stood there before people wrote different things. */
export function Before({ value }: { value: Value | undefined }) {
  if (!value) return null;
  return (
    <p className="before soft">
      Before, it was <b>{textOf(value)}</b> <Origin writers={[value]} exact />
    </p>
  );
}
