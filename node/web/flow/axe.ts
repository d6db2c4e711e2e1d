import { readFileSync } from 'node:fs';
import { expect, type Page } from '@playwright/test';

interface Finding {
  id: string;
  impact: string;
  nodes: { html: string }[];
}

/** axe-core's findings that are serious; it runs beside the page's scripts, which the page's policy doesn't bind. */
async function serious(page: Page): Promise<string[]> {
  await page.evaluate(readFileSync(new URL(import.meta.resolve('axe-core/axe.min.js')), 'utf8'));
  return page.evaluate(async () => {
    const { axe } = window as unknown as { axe: { run: () => Promise<{ violations: Finding[] }> } };
    const { violations } = await axe.run();
    return violations
      .filter((one) => one.impact === 'serious' || one.impact === 'critical')
      .map((one) => `${one.id}: ${one.nodes.map((node) => node.html).join(' ')}`);
  });
}

const sizes = [
  { width: 390, height: 844 },
  { width: 1440, height: 900 },
];

/** Looks at what is shown in a dim room and by day, on a small screen and a large one, and leaves it as it was. */
export async function expectReadable(page: Page, what: string) {
  for (const size of sizes) {
    await page.setViewportSize(size);
    for (const colorScheme of ['dark', 'light'] as const) {
      await page.emulateMedia({ colorScheme });
      expect(await serious(page), `${what}, ${colorScheme}, ${size.width} wide`).toEqual([]);
    }
  }
}
