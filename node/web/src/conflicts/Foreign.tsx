import { Before } from './Before';
import { Origins } from './ChoiceButton';
import type { Choice } from './choices';
import { Compared } from './Compared';
import type { Props } from './ConflictCard';

/** The values of a field that only somebody else may settle: to be read, with nothing to press. */
export function Foreign({ conflict, choices }: Pick<Props, 'conflict' | 'choices'>) {
  const [first, second] = choices.all;
  const other = (one: Choice) => (one === first ? second : first)?.text;
  return (
    <>
      <Before value={conflict.ancestor} />
      <ul className="choices">
        {choices.all.map((one) => (
          <li key={one.text} className="choice read">
            <span className="choice-text">
              <Compared text={one.text} other={other(one)} />
            </span>
            <Origins choice={one} />
          </li>
        ))}
      </ul>
    </>
  );
}
