import { type Browser, chromium } from '@playwright/test';
import config from '../playwright.config';
import { freePort } from './staff';

/** A browser that may put tabs to sleep: those that Playwright drives itself are told that somebody looks at them always. */
export class Drowsy {
  private constructor(
    private readonly process: Browser,
    private readonly connection: Browser,
  ) {}

  static async launch(): Promise<Drowsy> {
    const launch = config.use?.launchOptions;
    const port = await freePort();
    const process = await chromium.launch({ ...launch, args: [...(launch?.args ?? []), `--remote-debugging-port=${port}`] });
    return new Drowsy(process, await chromium.connectOverCDP(`http://127.0.0.1:${port}`, { noDefaults: true }));
  }
  get context() {
    const [context] = this.connection.contexts();
    if (!context) throw new Error('the browser has no profile');
    return context;
  }
  async close(): Promise<void> {
    await this.connection.close();
    await this.process.close();
  }
}
