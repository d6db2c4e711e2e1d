import type { ReactNode } from 'react';
import { Dialog, Heading, Modal, ModalOverlay } from 'react-aria-components';

export interface Question {
  title: string;
  text: string;
  yes: string;
}

interface Props {
  question: Question;
  trouble: string;
  isBusy: boolean;
  onYes: () => void;
  onNo: () => void;
  /** What is chosen before the answer. */
  before?: ReactNode;
  /** What has come in since. It stands below the answers, so that nothing moves that is about to be pressed. */
  children?: ReactNode;
}

/** Asks before what can't be taken back. Enter and Esc leave everything as it is. */
export function Sure({ question, trouble, isBusy, onYes, onNo, before, children }: Props) {
  return (
    <ModalOverlay className="veil" isOpen onOpenChange={(open) => !open && onNo()} isDismissable>
      <Modal className="sheet narrow">
        <Dialog role="alertdialog">
          <Heading slot="title">{question.title}</Heading>
          <p>{question.text}</p>
          {before}
          {trouble && (
            <p className="notice" role="alert">
              Not done: {trouble}
            </p>
          )}
          <p className="answers">
            <button type="button" autoFocus onClick={onNo}>
              No, leave it
            </button>
            <button type="button" className="grave" disabled={isBusy} onClick={onYes}>
              {question.yes}
            </button>
          </p>
          {children}
        </Dialog>
      </Modal>
    </ModalOverlay>
  );
}
