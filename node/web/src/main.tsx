// The page begins here: it is let in (session.ts), then draws App.tsx, which lists the pages. Each page has a folder;
// value/ and conflicts/ConflictCard.tsx are how values and conflicts are shown everywhere, look/tokens.css is how
// everything looks, keys/keymap.ts has every key, live/ keeps what is shown up to date.

import { useState } from 'react';
import { createRoot } from 'react-dom/client';
import { App } from './App';
import './look/tokens.css';
import './look/fonts.css';
import './look/base.css';
import './look/frame.css';
import { wearLook } from './look/useLook';
import { Closed } from './parts/Closed';
import { holdSteady } from './parts/steady';
import { type Entry, enter, sessionToken } from './session';
import { nodeTransport } from './transport';

function Page({ entry }: { entry: Entry }) {
  const [now, setNow] = useState(entry);
  const [transport] = useState(() => nodeTransport(sessionToken, () => setNow('ended')));
  return now === 'open' ? <App transport={transport} /> : <Closed why={now} onOpen={() => setNow('open')} />;
}

wearLook();
const place = document.getElementById('page');
if (!place) throw new Error('index.html has no place for the page');
holdSteady(document.body);
createRoot(place).render(<Page entry={await enter().catch((): Entry => 'none')} />);
