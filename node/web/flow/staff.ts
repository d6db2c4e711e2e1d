import { type ChildProcess, type ChildProcessByStdio, execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import type { Readable, Writable } from 'node:stream';
import { promisify } from 'node:util';
import type { Page } from '@playwright/test';

const program = process.env.PLUMBLINE ?? '';
const execute = promisify(execFile);

/** The staff of the demonstration, after it ended: invented, with facts in conflict. */
export class Staff {
  private constructor(readonly folder: string) {}

  static async found(): Promise<Staff> {
    if (program === '') throw new Error('PLUMBLINE names no program: run .ci/web');
    const folder = await mkdtemp(join(tmpdir(), 'plumbline-flow-'));
    const kept = join(folder, 'staff');
    await execute(program, ['demo', '--once', '--json', '--keep', kept], { maxBuffer: 1 << 26 });
    return new Staff(kept);
  }

  laptop(name: string): Laptop {
    return new Laptop(join(this.folder, name));
  }

  async end(): Promise<void> {
    await rm(join(this.folder, '..'), { recursive: true, force: true });
  }
}

/** One laptop, whose node can be started, killed and started again on the same port. */
export class Laptop {
  api = '';
  links = '';
  private node: ChildProcess | undefined;

  constructor(readonly folder: string) {}

  private get folders() {
    return ['--data', join(this.folder, 'data'), '--state', join(this.folder, 'state')];
  }

  /** Starts the node and gives the address that opens its page, once. With a browser, it opens the page in that too. */
  async start(browser?: string): Promise<string> {
    const args = ['run', '--json', '--no-beacon', '--listen', `127.0.0.1:${await freePort()}`];
    if (browser !== undefined) args.push('--open');
    const node = spawn(program, [...this.folders, ...args], { stdio: ['ignore', 'pipe', 'inherit'], env: opening(browser) });
    this.node = node;
    const [line] = (await once(createInterface(node.stdout), 'line')) as [string];
    const said = JSON.parse(line) as { api: string; page: string; addresses: string[] };
    this.api = said.api;
    this.links = said.addresses[0] ?? '';
    return said.page;
  }

  get process(): number {
    return this.node?.pid ?? 0;
  }

  async stop(signal: NodeJS.Signals = 'SIGTERM'): Promise<void> {
    const node = this.node;
    if (!node) return;
    this.node = undefined;
    node.kill(signal);
    await once(node, 'exit');
  }

  /** Which browsers are let in, as the node remembers them: hashes. */
  async sessions(): Promise<string[]> {
    return JSON.parse(await readFile(join(this.folder, 'state', 'sessions.json'), 'utf8')) as string[];
  }

  /** Lets a laptop join as two people do who sit side by side: each types what the other's screen shows. */
  async admit(newcomer: Laptop, person: string): Promise<void> {
    const inviting = new Screen([...this.folders, 'invite', person]);
    const joining = new Screen([...newcomer.folders, 'join', await inviting.line('address'), await inviting.line('word')]);
    const [ours, theirs] = [await inviting.line('code'), await joining.line('code')];
    inviting.type(theirs);
    joining.type(ours);
    await Promise.all([inviting.ended, joining.ended]);
  }

  async run(...args: string[]): Promise<string> {
    return (await execute(program, [...this.folders, ...args])).stdout.trim();
  }

  /** Changes a field, having read what stands there. */
  async change(record: string, field: string, text: string): Promise<void> {
    const shown = JSON.parse(await this.run('show', record, '--json')) as Shown;
    const values = shown.record.fields.find((one) => one.name === field)?.values ?? [];
    await this.run('set', record, `${field}=${text}`, ...values.flatMap(({ id }) => ['--seen', id]));
  }

  /** How many connections to its API are open, by what Linux says of them (proc(5), /proc/net/tcp). */
  async connections(): Promise<number> {
    const local = `0100007F:${Number(new URL(this.api).port).toString(16).toUpperCase().padStart(4, '0')}`;
    const established = '01';
    const lines = (await readFile('/proc/net/tcp', 'utf8')).split('\n').map((line) => line.trim().split(/\s+/));
    return lines.filter(([, from, , state]) => from === local && state === established).length;
  }
}

/** A command that somebody reads and types on while it runs. */
class Screen {
  readonly ended: Promise<unknown>;
  private readonly command: ChildProcessByStdio<Writable, Readable, null>;
  private readonly lines: AsyncIterator<string>;

  constructor(args: string[]) {
    this.command = spawn(program, args, { stdio: ['pipe', 'pipe', 'ignore'] });
    this.lines = createInterface(this.command.stdout)[Symbol.asyncIterator]();
    this.ended = once(this.command, 'exit');
  }

  /** What stands behind a name, at the start of a line to come. */
  async line(name: string): Promise<string> {
    for (;;) {
      const next = await this.lines.next();
      if (next.done) throw new Error(`the command ended without ${name}`);
      if (next.value.startsWith(`${name}: `)) return next.value.slice(name.length + 2);
    }
  }

  type(line: string): void {
    this.command.stdin.end(`${line}\n`);
  }
}

interface Shown {
  record: { fields: { name: string; values: { id: string }[] }[] };
}

/** The surroundings in which xdg-open takes a given program for the browser, since there is no desktop. */
function opening(browser: string | undefined): NodeJS.ProcessEnv {
  const { DISPLAY: _, WAYLAND_DISPLAY: __, ...rest } = process.env;
  return browser === undefined ? process.env : { ...rest, BROWSER: browser };
}

export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  if (address === null || typeof address === 'string') throw new Error('no port can be had');
  return address.port;
}

/** Where what is typed goes: nobody types before it is there. */
export const typing = (page: Page) => page.locator('input:focus, textarea:focus');
