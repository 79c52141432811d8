import { cellOf, type Layer, ringsOf } from './layer.ts';

/** A FeatureCollection (RFC 7946; with the older member `crs` where the layer is in another system), in pieces to be written one after another; one record a line. */
export function* geoJson(layer: Layer): Generator<string> {
  const keys = layer.columns.map((c) => JSON.stringify(c.name));
  const code = layer.system?.code ?? null;
  const crs = code === null ? '' : `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::${code}"}},`;
  yield `{"type":"FeatureCollection",${crs}"features":[`;
  for (let r = 0; r + 1 < layer.recordStart.length; r++) {
    const polygons = ringsOf(layer, r);
    const geometry =
      polygons.length === 1
        ? { type: 'Polygon', coordinates: polygons[0] }
        : { type: 'MultiPolygon', coordinates: polygons };
    const properties = layer.columns.map((c, i) => `${keys[i]}:${JSON.stringify(cellOf(c, r))}`).join(',');
    yield `${r === 0 ? '' : ','}\n{"type":"Feature","properties":{${properties}},"geometry":${JSON.stringify(geometry)}}`;
  }
  yield '\n]}\n';
}
