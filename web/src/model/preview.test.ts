import assert from "node:assert/strict";
import { test } from "node:test";
import { readGlb } from "./glb";
import { readPicture } from "./preview";

function picture(): ArrayBuffer {
  const head = { parts: [{ name: "walnut", is: "wood", colour: [1, 2, 3], translucent: false, corners: 3, triangles: 1, min: [-5, 0, 2], step: [0.5, 1, 2] }] };
  let text = new TextEncoder().encode(JSON.stringify(head));
  text = new Uint8Array([...text, ...new Array((4 - (text.length % 4)) % 4).fill(32)]);
  const bytes = new Uint8Array(4 + text.length + 20 + 12 + 12);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, text.length, true);
  bytes.set(text, 4);
  let at = 4 + text.length;
  for (const count of [0, 0, 0, 20, 0, 0, 0, 65535, 1]) {
    view.setUint16(at, count, true);
    at += 2;
  }
  at += 2;
  for (const value of [0, 0, 127, 0, 0, 0, 127, 0, -127, 0, 0, 0]) view.setInt8(at++, value);
  for (const index of [0, 1, 2]) {
    view.setUint32(at, index, true);
    at += 4;
  }
  return bytes.buffer;
}

test("corners stand where the server's counts put them", () => {
  const [solid] = readPicture(picture()).solids;
  assert.deepEqual([...solid!.corners], [-5, 0, 2, 5, 0, 2, -5, 65535, 4]);
  assert.deepEqual([...solid!.normals], [0, 0, 127, 0, 0, 127, -127, 0, 0]);
  assert.deepEqual([...solid!.triangles], [0, 1, 2]);
});

test("a picture that was cut short is refused", () => {
  assert.throws(() => readPicture(picture().slice(0, -4)));
});

test("a model in glTF comes with its corners, normals and colours", () => {
  const json = JSON.stringify({
    meshes: [{ name: "workpiece", primitives: [{ attributes: { POSITION: 0, NORMAL: 1, COLOR_0: 2 }, indices: 3 }] }],
    accessors: [
      { bufferView: 0, componentType: 5126, count: 3, type: "VEC3" }, { bufferView: 1, componentType: 5126, count: 3, type: "VEC3" },
      { bufferView: 2, componentType: 5121, count: 3, type: "VEC4" }, { bufferView: 3, componentType: 5125, count: 3, type: "SCALAR" },
    ],
    bufferViews: [{ byteOffset: 0 }, { byteOffset: 36 }, { byteOffset: 72 }, { byteOffset: 84 }],
  });
  const text = new TextEncoder().encode(json.padEnd(Math.ceil(json.length / 4) * 4));
  const bytes = new Uint8Array(20 + text.length + 8 + 96);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, 0x46546c67, true);
  view.setUint32(12, text.length, true);
  bytes.set(text, 20);
  const data = 20 + text.length + 8;
  [1, 2, 3, 4, 5, 6, 7, 8, 9].forEach((x, k) => view.setFloat32(data + 4 * k, x, true));
  [0, 0, 1, 0, 0, 1, 0, 1, 0].forEach((x, k) => view.setFloat32(data + 36 + 4 * k, x, true));
  bytes.set([10, 20, 30, 255, 10, 20, 30, 255, 40, 50, 60, 255], data + 72);
  [0, 1, 2].forEach((x, k) => view.setUint32(data + 84 + 4 * k, x, true));
  const [solid] = readGlb(bytes.buffer);
  assert.deepEqual([...solid!.corners], [1, 2, 3, 4, 5, 6, 7, 8, 9]);
  assert.deepEqual([...solid!.normals], [0, 0, 127, 0, 0, 127, 0, 127, 0]);
  assert.deepEqual([...solid!.colours!], [10, 20, 30, 10, 20, 30, 40, 50, 60]);
});
