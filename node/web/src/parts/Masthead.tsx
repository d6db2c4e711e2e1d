import { useQuery } from '@connectrpc/connect-query';
import { Link } from '@tanstack/react-router';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { hasNews } from '../laptops/Told';
import { useLink } from '../live/Live';
import type { Link as LinkState } from '../live/share';
import type { Look } from '../look/useLook';

const linkWords: Record<LinkState, string> = {
  starting: 'connecting',
  live: 'live',
  away: 'the node is away',
  refused: 'not let in',
};

const lookWords: Record<Look, string> = { system: 'as the system', light: 'by day', dark: 'dim room' };

interface Props {
  look: Look;
  changeLook: () => void;
  showKeys: () => void;
}

/** Where one is, whose laptop this is, and whether what is shown is live. */
export function Masthead({ look, changeLook, showKeys }: Props) {
  const status = useQuery(NodeService.method.status).data;
  const toSettle = status ? status.conflicts - status.conflictsOfOthers : 0;
  const inReach = status?.peers.filter((peer) => peer.linked).length ?? 0;
  return (
    <header className="masthead">
      <Link to="/" className="name">
        <Plumb />
        Plumbline
        {status?.staffName && <span className="soft staff">{status.staffName}</span>}
      </Link>
      <nav aria-label="Pages">
        <Link to="/" activeOptions={{ exact: true }}>
          Prospects
        </Link>
        <Link to="/conflicts">
          Conflicts{' '}
          <span className="differs">{toSettle > 0 && `≠ ${toSettle}`}</span>
        </Link>
        <Link to="/doubles">Doubles</Link>
        <Link to="/lists/$kind" params={{ kind: 'game' }}>
          Records
        </Link>
        <Link to="/import">Import</Link>
        <Link to="/laptops">Laptops</Link>
      </nav>
      <div className="state">
        {status && hasNews(status) && (
          <Link to="/laptops" className="just">
            ▲ read this
          </Link>
        )}
        {status?.personName && <span className="who">{status.personName}</span>}
        {status?.role === '' && status.staff !== '' && (
          <Link to="/laptops" className="differs">
            read only
          </Link>
        )}
        <LinkSign inReach={inReach} />
        <button type="button" onClick={changeLook} aria-label={`Look: ${lookWords[look]}. Change`}>
          {lookWords[look]}
        </button>
        <button type="button" className="keys" onClick={showKeys} aria-label="Keys">
          ?
        </button>
      </div>
    </header>
  );
}

function LinkSign({ inReach }: { inReach: number }) {
  const link = useLink();
  const laptops = link === 'live' ? `, ${inReach === 0 ? 'no laptop' : inReach} in reach` : '';
  return (
    <span className="link-state" data-link={link} role="status">
      {linkWords[link]}
      {laptops}
    </span>
  );
}

/** A plumb bob on its line. */
function Plumb() {
  return (
    <svg viewBox="0 0 12 24" aria-hidden="true">
      <path d="M5.5 0h1v11h-1z" fill="var(--rule-strong)" />
      <path d="M2.5 11h7v3L6 24 2.5 14z" fill="var(--accent)" />
    </svg>
  );
}
