// The plan that lies in the page, and the worker that lies there too, both compressed.

import { unpack } from "../src/preview/pack.ts";
import type { Scene } from "../src/preview/scene.ts";
import type { Answer, Ask, Numbered, Source } from "./protocol.ts";

/** What `slabtrue` put into the page: the plan's scene, and the texts that it was made from. */
interface Embedded {
  readonly scene: Scene;
  readonly source: Omit<Source, "files"> & { readonly files: Readonly<Record<string, Uint8Array>> };
}

/** Null where the page holds no plan. */
export async function embedded(): Promise<{ scene: Scene; source: Source } | null> {
  const json = blockText("slabtrue-plan");
  if (json === "") return null;
  const bytes = await inflated(blockText("slabtrue-columns"));
  const { scene, source } = unpack<Embedded>({ json, bytes });
  const decoder = new TextDecoder();
  const files = Object.entries(source.files).map(([name, text]) => [name, decoder.decode(text)]);
  return { scene, source: { ...source, files: Object.fromEntries(files) } };
}

/** The planner in its worker; starts when it is first asked. */
export class Planner {
  private worker: Promise<Worker> | null = null;
  private readonly waiting = new Map<number, (answer: Answer) => void>();
  private asked = 0;

  async ask(ask: Ask): Promise<Answer> {
    this.worker ??= this.start();
    const worker = await this.worker;
    const id = ++this.asked;
    return new Promise((resolve) => {
      this.waiting.set(id, resolve);
      worker.postMessage({ ...ask, id } satisfies Numbered<Ask>);
    });
  }

  private async start(): Promise<Worker> {
    const script = await inflated(blockText("slabtrue-planner"));
    const worker = new Worker(URL.createObjectURL(new Blob([script], { type: "text/javascript" })));
    worker.onmessage = ({ data }: MessageEvent<Numbered<Answer>>) => {
      this.waiting.get(data.id)?.(data);
      this.waiting.delete(data.id);
    };
    // A worker that dies leaves nobody waiting, and the next ask starts another.
    worker.onerror = (event) => {
      const lines = [`slabtrue failed, and that is its fault, not yours: ${event.message}`];
      for (const resolve of this.waiting.values()) resolve({ kind: "failed", lines, missing: [] });
      this.waiting.clear();
      worker.terminate();
      this.worker = null;
    };
    return worker;
  }
}

function blockText(id: string): string {
  return document.getElementById(id)?.textContent?.trim() ?? "";
}

async function inflated(base64: string): Promise<Uint8Array<ArrayBuffer>> {
  const binary = atob(base64);
  const bytes = new Uint8Array(binary.length);
  for (let k = 0; k < binary.length; k++) bytes[k] = binary.charCodeAt(k);
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}
