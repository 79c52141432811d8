import { render } from 'preact';
import { App } from './app.tsx';
import { standBy } from './checker.ts';
import { markTurns } from './marks.ts';
import './style/sheet.css';
import 'virtual:drawings.css';
import './style/parts.css';
import './style/flow.css';
import './style/print.css';

const root = document.getElementById('sheet');
markTurns();
if (root) render(<App />, root);
standBy();

// Fails where the page is not a secure origin, as on a shared folder: then it works as long as it is served.
if (import.meta.env.PROD) navigator.serviceWorker?.register('./offline.js').catch(() => {});
