// The numbers of a picture in space, as the server sends them (see PreviewHead).
import type { PartHead, PreviewHead } from "../wire/wire";

/** One part, its corners in mm. */
export interface Solid {
  head: Pick<PartHead, "name" | "is" | "colour" | "translucent">;
  corners: Float32Array;
  /** Three to a corner, −127 to 127. */
  normals: Int8Array;
  /** Colours of the corners, where each has its own. */
  colours?: Uint8Array;
  triangles: Uint32Array;
}

/** Head and parts of a picture. */
export interface Picture {
  head: PreviewHead;
  solids: Solid[];
}

const next4 = (at: number) => (at + 3) & ~3;

/** Reads what the server sent. */
export function readPicture(bytes: ArrayBuffer): Picture {
  const length = new DataView(bytes).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length))) as PreviewHead;
  let at = 4 + length;
  const solids = head.parts.map((part): Solid => {
    const counts = new Uint16Array(bytes, at, 3 * part.corners);
    at = next4(at + 6 * part.corners);
    const packed = new Int8Array(bytes, at, 4 * part.corners);
    at += 4 * part.corners;
    const triangles = new Uint32Array(bytes, at, 3 * part.triangles);
    at += 12 * part.triangles;
    const corners = new Float32Array(3 * part.corners);
    const normals = new Int8Array(3 * part.corners);
    for (let k = 0; k < part.corners; k++) {
      for (let j = 0; j < 3; j++) {
        corners[3 * k + j] = part.min[j]! + part.step[j]! * counts[3 * k + j]!;
        normals[3 * k + j] = packed[4 * k + j]!;
      }
    }
    return { head: part, corners, normals, triangles };
  });
  if (at !== bytes.byteLength) throw new Error("the picture is not whole");
  return { head, solids };
}
