/** Upper halves (128 to 255) of the DOS code pages that web text decoders do not have. Unicode mapping tables CP437.TXT and CP850.TXT. */
const CP437 =
  'ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜ¢£¥₧ƒáíóúñÑªº¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u00a0';
const CP850 =
  'ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜø£Ø×ƒáíóúñÑªº¿®¬½¼¡«»░▒▓│┤ÁÂÀ©╣║╗╝¢¥┐└┴┬├─┼ãÃ╚╔╩╦╠═╬¤ðÐÊËÈıÍÎÏ┘┌█▄¦Ì▀ÓßÔÒõÕµþÞÚÛÙýÝ¯´\u00ad±‗¾¶§÷¸°¨·¹³²■\u00a0';
const CP852 =
  'ÇüéâäůćçłëŐőîŹÄĆÉĹĺôöĽľŚśÖÜŤťŁ×čáíóúĄąŽžĘę¬źČş«»░▒▓│┤ÁÂĚŞ╣║╗╝Żż┐└┴┬├─┼Ăă╚╔╩╦╠═╬¤đĐĎËďŇÍÎě┘┌█▄ŢŮ▀ÓßÔŃńňŠšŔÚŕŰýÝţ´\u00ad˝˛ˇ˘§÷¸°¨˙űŘř■\u00a0';

const TABLES: Readonly<Record<string, string>> = { '437': CP437, '850': CP850, '852': CP852 };

/** Language byte of a .dbf -> code page (the table of the ESRI shapefile and dBASE/FoxPro documentation). */
const LANGUAGES: Readonly<Record<number, string>> = {
  1: '437',
  2: '850',
  3: '1252',
  8: '865',
  9: '437',
  10: '850',
  11: '437',
  13: '437',
  14: '850',
  15: '437',
  16: '850',
  17: '437',
  18: '850',
  19: '932',
  20: '850',
  21: '437',
  22: '850',
  23: '865',
  24: '437',
  25: '437',
  26: '850',
  27: '437',
  29: '850',
  31: '852',
  34: '852',
  35: '852',
  36: '860',
  37: '850',
  38: '866',
  55: '850',
  64: '852',
  77: '936',
  78: '949',
  79: '950',
  80: '874',
  87: '1252',
  88: '1252',
  89: '1252',
  100: '852',
  101: '866',
  120: '950',
  121: '949',
  122: '936',
  123: '932',
  124: '874',
  134: '737',
  135: '852',
  136: '857',
  200: '1250',
  201: '1251',
  202: '1254',
  203: '1253',
  204: '1257',
};

const LABELS: Readonly<Record<string, string>> = {
  '65001': 'utf-8',
  '866': 'ibm866',
  '874': 'windows-874',
  '932': 'shift_jis',
  '936': 'gbk',
  '949': 'euc-kr',
  '950': 'big5',
  '1200': 'utf-16le',
  '54936': 'gb18030',
  '20866': 'koi8-r',
  '28591': 'windows-1252',
};

export interface TextReader {
  /** Name of the code page for messages. */
  name: string;
  decode(bytes: Uint8Array): string;
}

/** A decoder for the text of a .cpg, or null when it is not understood. Takes 'UTF-8', '1252', 'ANSI 1252', 'CP932', 'ISO-8859-1', '88591', 'LDID/87', 'OEM', .... */
export function byName(text: string): TextReader | null {
  const said = text
    .replace(/^\ufeff/, '')
    .trim()
    .toLowerCase();
  if (said === '') return null;
  const ldid = /^ldid[/ ]?(\d+)/.exec(said);
  if (ldid) return byLanguage(Number(ldid[1]));
  if (said === 'oem') return codePage('850');
  if (said === 'ansi' || said === 'system') return codePage('1252');
  if (/^utf-?8\b/.test(said)) return codePage('65001');
  if (/^(sjis|shift[-_]?jis)/.test(said)) return codePage('932');
  if (/^(gbk|gb2312)/.test(said)) return codePage('936');
  if (/^(big5)/.test(said)) return codePage('950');
  const iso = /^(?:iso[-_ ]?)?8859[-_ ]?(\d{1,2})$/.exec(said);
  if (iso) return webDecoder(`iso-8859-${iso[1]}`, `ISO 8859-${iso[1]}`);
  const page = /^(?:ansi|oem|cp|ibm|ms|windows|dos|x-cp)?[-_ /]*(\d{3,5})\b/.exec(said);
  return page ? codePage(page[1]) : webDecoder(said, said);
}

/** A decoder for the language byte of a .dbf, or null when the byte names none. */
export function byLanguage(language: number): TextReader | null {
  const page = LANGUAGES[language];
  return page === undefined ? null : codePage(page);
}

function codePage(page: string): TextReader | null {
  const upper = TABLES[page];
  if (upper !== undefined) return { name: `code page ${page}`, decode: (bytes) => fromTable(bytes, upper) };
  const label = LABELS[page] ?? (/^125[0-8]$/.test(page) ? `windows-${page}` : '');
  return label === '' ? null : webDecoder(label, page === '65001' ? 'UTF-8' : `code page ${page}`);
}

function webDecoder(label: string, name: string): TextReader | null {
  try {
    const decoder = new TextDecoder(label);
    return { name, decode: (bytes) => decoder.decode(bytes) };
  } catch {
    return null;
  }
}

function fromTable(bytes: Uint8Array, upper: string): string {
  let text = '';
  for (const b of bytes) text += b < 128 ? String.fromCharCode(b) : upper[b - 128];
  return text;
}

/** True when the bytes are well-formed UTF-8. */
export function isUtf8(bytes: Uint8Array): boolean {
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(bytes);
    return true;
  } catch {
    return false;
  }
}
