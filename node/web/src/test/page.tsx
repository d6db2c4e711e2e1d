import { type ConnectRouter, createRouterTransport } from '@connectrpc/connect';
import { createMemoryHistory } from '@tanstack/react-router';
import { render } from '@testing-library/react';
import userEvent from '@testing-library/user-event';
import { App } from '../App';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';

/** Draws the page with a node's answers in memory. Calls without an answer here fail as unimplemented. */
export function openPage(path: string, answers: (router: ConnectRouter) => void) {
  const transport = createRouterTransport((router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', staffName: 'Harrow County', personName: 'Mara Quill' }));
    router.rpc(LedgerService.method.schema, () => ({
      kinds: [{ name: 'prospect', fields: [{ name: 'position', help: 'where he plays' }], figures: [{ name: 'arm' }, { name: 'arm_source' }] }],
    }));
    answers(router);
  });
  render(<App transport={transport} history={createMemoryHistory({ initialEntries: [path] })} />);
  return userEvent.setup();
}
