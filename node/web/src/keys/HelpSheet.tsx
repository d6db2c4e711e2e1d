import { Dialog, Heading, Modal, ModalOverlay } from 'react-aria-components';
import { keymap, keyName, type Place, places } from './keymap';

const titles: Record<Place, string> = {
  everywhere: 'Everywhere',
  prospects: 'Prospects',
  prospect: 'One prospect',
  records: 'Other records',
  conflicts: 'Conflicts',
  doubles: 'Doubles',
  laptops: 'Laptops',
};

/** Every key, by where it works. It is made from the key map, so it can't be out of date. */
export function HelpSheet({ isOpen, onChange }: { isOpen: boolean; onChange: (open: boolean) => void }) {
  return (
    <ModalOverlay className="veil" isOpen={isOpen} onOpenChange={onChange} isDismissable>
      <Modal className="sheet">
        <Dialog>
          <Heading slot="title">Keys</Heading>
          <div className="sheet-parts">
            {places.map((place) => (
              <section key={place}>
                <h3>{titles[place]}</h3>
                <dl>
                  {Object.values(keymap)
                    .filter((key) => key.place === place)
                    .map((key) => (
                      <div key={key.does}>
                        <dt>
                          <KeyCaps keys={key.keys} />
                        </dt>
                        <dd>{key.does}</dd>
                      </div>
                    ))}
                </dl>
              </section>
            ))}
          </div>
        </Dialog>
      </Modal>
    </ModalOverlay>
  );
}

function KeyCaps({ keys }: { keys: readonly string[] }) {
  const shown = keys.length > 3 ? [`${keys[0]}–${keys[keys.length - 1]}`] : keys.map(keyName);
  return shown.map((key) => <kbd key={key}>{key}</kbd>);
}
