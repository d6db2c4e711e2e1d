import type { CDPSession, Page } from '@playwright/test';

/** Runs in every page before its own scripts: notes when what one waits for has been drawn. */
export function watching(): void {
  /** Resolves with the time at which a frame that has it was drawn; undefined if it doesn't come. */
  const drawn = (isThere: () => boolean, patience: number) =>
    new Promise<number | undefined>((resolve) => {
      const limit = performance.now() + patience;
      const look = () => {
        // A task after the frame's own callbacks: by then the frame was drawn.
        if (isThere()) setTimeout(() => resolve(performance.now()));
        else if (performance.now() > limit) resolve(undefined);
        else requestAnimationFrame(look);
      };
      look();
    });
  const opened = drawn(() => document.querySelectorAll('[role=row]').length > 2 && document.querySelector('input') !== null, 60_000);
  Object.assign(window, { drawn, opened });
}

export interface Watched extends Window {
  drawn: (isThere: () => boolean, patience: number) => Promise<number | undefined>;
  opened: Promise<number | undefined>;
}

/** Processor time of the page's main thread, in milliseconds. */
export class MainThread {
  private constructor(private readonly wire: CDPSession) {}

  static async of(page: Page): Promise<MainThread> {
    const wire = await page.context().newCDPSession(page);
    await wire.send('Performance.enable', { timeDomain: 'threadTicks' });
    return new MainThread(wire);
  }
  async time(): Promise<number> {
    const { metrics } = await this.wire.send('Performance.getMetrics');
    return (metrics.find(({ name }) => name === 'TaskDuration')?.value ?? 0) * 1000;
  }
}
