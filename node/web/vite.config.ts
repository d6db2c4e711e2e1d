import react from '@vitejs/plugin-react';
import { defineConfig } from 'vitest/config';

// Names of built files stay the same, so that a build changes only what changed; the node tells browsers when a file is
// another one. Everything lies in one script: it comes from this machine, where a second request saves nothing.
export default defineConfig({
  plugins: [react()],
  build: {
    target: ['chrome125', 'firefox128', 'safari17.5'],
    cssTarget: ['chrome125', 'firefox128', 'safari17.5'],
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
    chunkSizeWarningLimit: 800,
    license: { fileName: 'licences.md' },
    rolldownOptions: {
      output: {
        entryFileNames: 'assets/app.js',
        chunkFileNames: 'assets/[name].js',
        assetFileNames: (asset) => (asset.names[0]?.endsWith('.css') ? 'assets/app.css' : 'assets/[name][extname]'),
        codeSplitting: false,
      },
    },
  },
  test: {
    environment: 'jsdom',
    include: ['src/**/*.test.{ts,tsx}'],
    setupFiles: ['src/test/setup.ts'],
  },
});
