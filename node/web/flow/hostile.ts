import { createServer, type RequestListener, type Server } from 'node:http';
import { connect, createServer as listenRaw, type Server as RawServer, type Socket } from 'node:net';
import type { AddressInfo } from 'node:net';
import { once } from 'node:events';

/** What a hostile page goes for: a node, a call that would write, and a session token that it somehow got hold of. */
export interface Target {
  api: string;
  call: string;
  body: string;
  token: string;
}

const lure: RequestListener = (_, response) => {
  response.writeHead(200, { 'Content-Type': 'text/html', Connection: 'close' }).end('<title>free film</title><h1>free film</h1>');
};

/** A server of somebody else's on this machine. */
export class Stranger {
  private constructor(private readonly server: Server) {}

  static async listen(): Promise<Stranger> {
    const server = createServer(lure).listen(0, '127.0.0.1');
    await once(server, 'listening');
    return new Stranger(server);
  }
  get port(): number {
    return (this.server.address() as AddressInfo).port;
  }
  end(): void {
    this.server.closeAllConnections();
    this.server.close();
  }
}

/**
 * A name that turns. Browsers keep to the rules for names that they were started with, so what turns is where the
 * connections go: at first to a stranger's page, then to the node, byte for byte. Node and browser see the same as when a
 * name is pointed elsewhere: the stranger's name and the node's port.
 */
export class Turning {
  turned = false;
  private readonly pages = createServer(lure);
  private readonly open = new Set<Socket>();

  private constructor(private readonly server: RawServer) {}

  static async listen(port: number): Promise<Turning> {
    const server = listenRaw();
    const turning = new Turning(server);
    server.on('connection', (socket: Socket) => turning.take(socket, port));
    await once(server.listen(port, '127.0.0.2'), 'listening');
    return turning;
  }
  private take(socket: Socket, port: number) {
    this.open.add(socket);
    socket.on('error', () => socket.destroy());
    if (!this.turned) return void this.pages.emit('connection', socket);
    const node = connect(port, '127.0.0.1').on('error', () => socket.destroy());
    socket.pipe(node).pipe(socket);
  }
  end(): void {
    for (const socket of this.open) socket.destroy();
    this.server.close();
  }
}

/** What a page may send without asking the other side first, by the Fetch standard. */
const simple = ['text/plain', 'application/x-www-form-urlencoded', 'multipart/form-data; boundary=x'];
export const simpleTypes: readonly string[] = simple;

/** Runs in a hostile page: calls of every kind, and what the page could read of each answer. */
export async function calls({ target, types }: { target: Target; types: readonly string[] }): Promise<Record<string, string>> {
  const read = (url: string, init: RequestInit) =>
    fetch(url, init).then(
      async (answer) => (answer.type === 'opaque' ? 'nothing' : `${answer.status} ${await answer.text()}`),
      () => 'nothing',
    );
  const { api, call, body, token } = target;
  const bearer = { Authorization: `Bearer ${token}` };
  const json = { 'Content-Type': 'application/json' };
  const seen: Record<string, string> = {
    'page': await read(`${api}/`, {}),
    'page, blind': await read(`${api}/`, { mode: 'no-cors' }),
    'page, with cookies': await read(`${api}/`, { credentials: 'include' }),
    'file': await read(`${api}/assets/app.js`, {}),
    'door': await read(`${api}/open`, {}),
    'door, blind': await read(`${api}/open`, { mode: 'no-cors' }),
    'call by GET': await read(`${call}?connect=v1&encoding=json&message=${encodeURIComponent(body)}`, {}),
    'call': await read(call, { method: 'POST', headers: json, body }),
    'call with a stolen session': await read(call, { method: 'POST', headers: { ...json, ...bearer }, body }),
    'call with a stolen session, as text': await read(call, { method: 'POST', headers: bearer, body }),
    'a session': await read(`${api}/session`, { method: 'POST', headers: bearer }),
    'an address': await read(`${api}/launch`, { method: 'POST', headers: bearer }),
  };
  for (const type of types) {
    for (const mode of ['cors', 'no-cors'] as const) {
      const init = { method: 'POST', mode, headers: { 'Content-Type': type }, body } as const;
      seen[`call as ${type}, ${mode}`] = await read(call, init);
    }
    navigator.sendBeacon(call, new Blob([body], { type }));
  }
  navigator.sendBeacon(call, new Blob([body], { type: 'application/json' }));
  return seen;
}

/** Runs in a hostile page: what tags, frames and forms get. */
export async function tags({ target }: { target: Target }): Promise<Record<string, string>> {
  const { api, call, body } = target;
  const patience = 3000;
  const ends = (element: HTMLElement) =>
    new Promise<string>((resolve) => {
      element.addEventListener('load', () => resolve('loaded'));
      element.addEventListener('error', () => resolve('nothing'));
      setTimeout(() => resolve('nothing'), patience);
    });
  const load = (tag: string, attributes: Record<string, string>, into: HTMLElement) => {
    const element = document.createElement(tag);
    const end = ends(element);
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    into.append(element);
    return end;
  };
  const frame = async (tag: 'iframe' | 'object' | 'embed') => {
    const element = document.createElement(tag) as HTMLIFrameElement;
    const end = ends(element);
    element.setAttribute(tag === 'object' ? 'data' : 'src', `${api}/open`);
    document.body.append(element);
    await end;
    try {
      return (tag === 'embed' ? element.getSVGDocument() : element.contentDocument)?.body?.textContent || 'nothing';
    } catch {
      return 'nothing';
    }
  };
  const form = async (enctype: string) => {
    const name = `into-${enctype.replaceAll(/\W/g, '')}`;
    const into = document.createElement('iframe');
    into.name = name;
    document.body.append(into);
    const element = document.createElement('form');
    Object.assign(element, { action: call, method: 'POST', enctype, target: name });
    const field = document.createElement('input');
    // The classic way to make a form's line read as JSON.
    Object.assign(field, { name: body.slice(0, -1) + ',"x":"', value: '"}' });
    element.append(field);
    document.body.append(element);
    const end = ends(into);
    element.submit();
    await end;
    return into.contentDocument?.body?.textContent || 'nothing';
  };
  return {
    'img': await load('img', { src: `${api}/plumb.svg` }, document.body),
    'script': await load('script', { src: `${api}/assets/app.js` }, document.head),
    'module': await load('script', { src: `${api}/assets/app.js`, type: 'module', crossorigin: '' }, document.head),
    'style': await load('link', { rel: 'stylesheet', href: `${api}/assets/app.css` }, document.head),
    'preload': await load('link', { rel: 'preload', as: 'script', href: `${api}/assets/app.js` }, document.head),
    'iframe': await frame('iframe'),
    'object': await frame('object'),
    'embed': await frame('embed'),
    'form, as fields': await form('application/x-www-form-urlencoded'),
    'form, as parts': await form('multipart/form-data'),
    'form, as text': await form('text/plain'),
  };
}

/** Runs in a hostile page: what sockets and workers get. */
export async function sockets({ target: { api, call } }: { target: Target }): Promise<Record<string, string>> {
  const socket = (kind: 'WebSocket' | 'EventSource') =>
    new Promise<string>((resolve) => {
      const url = kind === 'WebSocket' ? call.replace('http', 'ws') : call;
      const s = kind === 'WebSocket' ? new WebSocket(url) : new EventSource(url);
      s.onopen = () => resolve('opened');
      s.onerror = () => resolve('nothing');
    });
  const worker = () =>
    navigator.serviceWorker
      ? navigator.serviceWorker.register(`${api}/assets/app.js`, { scope: `${api}/` }).then(
          () => 'registered',
          () => 'nothing',
        )
      : Promise.resolve('nothing');
  return {
    'WebSocket': await socket('WebSocket'),
    'EventSource': await socket('EventSource'),
    'service worker': await worker(),
  };
}

/** Runs in a hostile page: adds a frame of no origin at all. */
export function nowhere(how: 'sandbox' | 'data'): void {
  const frame = document.createElement('iframe');
  frame.setAttribute('sandbox', 'allow-scripts');
  const html = '<h1>free film</h1>';
  if (how === 'sandbox') frame.srcdoc = html;
  else frame.src = `data:text/html,${html}`;
  document.body.append(frame);
}
