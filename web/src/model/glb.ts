// Reads the GLB models of a pack (glTF 2.0, one buffer, float corners): the workpiece before and after a setup.
import type { Solid } from "./preview";

interface Gltf {
  meshes: { name: string; primitives: { attributes: Record<string, number>; indices: number }[] }[];
  accessors: { bufferView: number; byteOffset?: number; componentType: number; count: number; type: string }[];
  bufferViews: { byteOffset?: number; byteStride?: number }[];
}

const WIDTH: Record<string, number> = { SCALAR: 1, VEC2: 2, VEC3: 3, VEC4: 4 };

/** The solids of a model, corners in mm with Z up, as they lie in the file under its turning node. */
export function readGlb(bytes: ArrayBuffer): Solid[] {
  const view = new DataView(bytes);
  if (view.getUint32(0, true) !== 0x46546c67) throw new Error("this is no GLB");
  const textLength = view.getUint32(12, true);
  const gltf = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 20, textLength))) as Gltf;
  const data = 20 + textLength + 8;
  const numbers = (index: number) => {
    const accessor = gltf.accessors[index]!;
    const layout = gltf.bufferViews[accessor.bufferView]!;
    const at = data + (layout.byteOffset ?? 0) + (accessor.byteOffset ?? 0);
    const width = WIDTH[accessor.type]!;
    const size = accessor.componentType === 5126 || accessor.componentType === 5125 ? 4 : accessor.componentType === 5121 ? 1 : 2;
    const stride = layout.byteStride ?? width * size;
    return (k: number, j: number) => {
      const place = at + k * stride + j * size;
      if (accessor.componentType === 5126) return view.getFloat32(place, true);
      if (accessor.componentType === 5125) return view.getUint32(place, true);
      return size === 1 ? view.getUint8(place) : view.getUint16(place, true);
    };
  };
  return gltf.meshes.map((mesh): Solid => {
    const { attributes, indices } = mesh.primitives[0]!;
    const count = gltf.accessors[attributes.POSITION!]!.count;
    const fill = <T extends Float32Array | Int8Array | Uint8Array>(into: T, index: number, scale: number) => {
      const at = numbers(index);
      for (let k = 0; k < count; k++) for (let j = 0; j < 3; j++) into[3 * k + j] = at(k, j) * scale;
      return into;
    };
    const index = numbers(indices);
    const triangles = Uint32Array.from({ length: gltf.accessors[indices]!.count }, (_, k) => index(k, 0));
    const corners = fill(new Float32Array(3 * count), attributes.POSITION!, 1);
    const normals = new Int8Array(3 * count);
    if (attributes.NORMAL !== undefined) fill(normals, attributes.NORMAL, 127);
    const solid: Solid = { head: { name: mesh.name, is: "wood", colour: [160, 120, 80], translucent: false }, corners, normals, triangles };
    const colours = attributes.COLOR_0;
    if (colours !== undefined) {
      // Float colours are in linear light from 0 to 1; the picture takes them so, in 255ths.
      const scale = gltf.accessors[colours]!.componentType === 5126 ? 255 : 1;
      solid.colours = fill(new Uint8Array(3 * count), colours, scale);
    }
    return solid;
  });
}
