import type { Transport } from '@connectrpc/connect';
import { TransportProvider, useQuery } from '@connectrpc/connect-query';
import { QueryClient, QueryClientProvider } from '@tanstack/react-query';
import { createRootRoute, createRoute, createRouter, Outlet, type RouterHistory, RouterProvider, useNavigate } from '@tanstack/react-router';
import { useEffect, useState } from 'react';
import { Conflicts } from './conflicts/Conflicts';
import { Doubles } from './doubles/Doubles';
import { Imports } from './imports/Imports';
import { NodeService } from './gen/plumbline/v1/node_pb';
import { FileProvider } from './form/File';
import { RetireProvider } from './form/Retire';
import { HelpSheet } from './keys/HelpSheet';
import { Palette } from './keys/Palette';
import { useKeys } from './keys/useKeys';
import { Laptops } from './laptops/Laptops';
import { Unmet } from './laptops/Unmet';
import { Lists } from './lists/Lists';
import { New } from './lists/New';
import { RecordPage } from './lists/RecordPage';
import { Live } from './live/Live';
import { useLook } from './look/useLook';
import { Away } from './parts/Away';
import { Masthead } from './parts/Masthead';
import { Said } from './parts/Said';
import { readOpen } from './prospect/open';
import { Prospect } from './prospect/Prospect';
import { ListProvider } from './prospects/listState';
import { Prospects } from './prospects/Prospects';

/** What stands around every page. */
function Frame() {
  const [look, changeLook] = useLook();
  const [keys, setKeys] = useState(false);
  const [palette, setPalette] = useState(false);
  const navigate = useNavigate();
  useKeys({
    help: () => setKeys(true),
    goProspects: () => void navigate({ to: '/' }),
    goConflicts: () => void navigate({ to: '/conflicts', search: {} }),
    goDoubles: () => void navigate({ to: '/doubles' }),
    goImport: () => void navigate({ to: '/import' }),
    goLaptops: () => void navigate({ to: '/laptops' }),
    goLists: () => void navigate({ to: '/lists/$kind', params: { kind: 'game' } }),
    newProspect: () => void navigate({ to: '/new/$kind', params: { kind: 'prospect' } }),
    look: changeLook,
    palette: () => setPalette(true),
  });
  // A laptop without a staff holds nothing to show: there one is joined or founded first.
  const staff = useQuery(NodeService.method.status).data?.staff;
  useEffect(() => {
    if (staff === '') void navigate({ to: '/laptops' });
  }, [staff, navigate]);
  return (
    <div className="frame">
      <div>
        <Masthead look={look} changeLook={changeLook} showKeys={() => setKeys(true)} />
        <Away />
        <Unmet />
      </div>
      <div className="page">
        <RetireProvider>
          <FileProvider>
            <Outlet />
          </FileProvider>
        </RetireProvider>
      </div>
      <HelpSheet isOpen={keys} onChange={setKeys} />
      <Palette
        isOpen={palette}
        onChange={setPalette}
        onProspect={(id) => void navigate({ to: '/prospects/$id', params: { id } })}
      />
    </div>
  );
}

const root = createRootRoute({ component: Frame, notFoundComponent: Nowhere });
const prospects = createRoute({ getParentRoute: () => root, path: '/', component: Prospects });
const prospect = createRoute({ getParentRoute: () => root, path: '/prospects/$id', component: Prospect, validateSearch: readOpen });
const conflicts = createRoute({
  getParentRoute: () => root,
  path: '/conflicts',
  component: Conflicts,
  validateSearch: (search): { record?: string } => (typeof search.record === 'string' ? { record: search.record } : {}),
});
const doubles = createRoute({ getParentRoute: () => root, path: '/doubles', component: Doubles });
const imports = createRoute({ getParentRoute: () => root, path: '/import', component: Imports });
const laptops = createRoute({ getParentRoute: () => root, path: '/laptops', component: Laptops });
const lists = createRoute({ getParentRoute: () => root, path: '/lists/$kind', component: Lists });
const record = createRoute({ getParentRoute: () => root, path: '/records/$id', component: RecordPage });
const added = createRoute({ getParentRoute: () => root, path: '/new/$kind', component: New });
const routeTree = root.addChildren([prospects, prospect, conflicts, doubles, imports, laptops, lists, record, added]);

function Nowhere() {
  return (
    <main className="text-page">
      <p className="notice">There is no such page.</p>
    </main>
  );
}

function newRouter(history?: RouterHistory) {
  return createRouter({ routeTree, ...(history && { history }) });
}

declare module '@tanstack/react-router' {
  interface Register {
    router: ReturnType<typeof newRouter>;
  }
}

/** Answers are kept until the live stream says that they changed. */
function newQueries(): QueryClient {
  return new QueryClient({
    defaultOptions: {
      queries: { networkMode: 'always', staleTime: Number.POSITIVE_INFINITY, retry: false, refetchOnWindowFocus: false },
      mutations: { networkMode: 'always' },
    },
  });
}

/** The page. The way to the node is an argument, so that tests can bring their own. */
export function App({ transport, history }: { transport: Transport; history?: RouterHistory }) {
  const [queries] = useState(newQueries);
  const [router] = useState(() => newRouter(history));
  return (
    <TransportProvider transport={transport}>
      <QueryClientProvider client={queries}>
        <Live>
          <ListProvider>
            <Said>
              <RouterProvider router={router} />
            </Said>
          </ListProvider>
        </Live>
      </QueryClientProvider>
    </TransportProvider>
  );
}
