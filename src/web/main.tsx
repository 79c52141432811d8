import { render } from 'preact';
import { App } from './app.tsx';
import './style/sheet.css';
import './style/parts.css';
import './style/print.css';

const root = document.getElementById('sheet');
if (root) render(<App />, root);
