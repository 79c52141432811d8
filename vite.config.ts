import { defineConfig } from 'vite';

export default defineConfig({
  root: 'src/web',
  publicDir: '../../public',
  base: './',
  build: { outDir: '../../dist/web', emptyOutDir: true, target: 'es2022' },
  worker: { format: 'es' },
});
