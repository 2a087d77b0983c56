// The engine behind the page: the native program where `dialwright serve` shows the
// page, else the same program as WebAssembly in workers. Both answer a request with
// the same lines of JSON, so the page need not know which one it talks to.

/** connect returns the engine: {via, version, ask, keep, kept}. */
export async function connect() {
	const about = await fetch("engine.json").then(r => r.ok ? r.json() : {via: "wasm"}, () => ({via: "wasm"}))
	return about.via === "http" ? new Server(about) : await Workers.start(about)
}

/** Refused is what a request is refused for: sentences, one for each fault. */
export class Refused extends Error {
	constructor(faults) {
		super(faults.join("\n"))
		this.name = "Refused"
		this.faults = faults
	}
}

/** Lost says that the engine is gone: the server ended, or does not know this page. */
export class Lost extends Error {
	lost = true
	constructor(why) {
		super(why)
		this.name = "Lost"
	}
}

const aborted = () => new DOMException("The study was cancelled.", "AbortError")

/** take acts on one line: it returns the answer, or undefined after progress. */
function take(line, progress) {
	if (line.progress) progress?.(line.progress)
	if (line.faults) throw new Refused(line.faults)
	if (!line.answer) return undefined
	const a = line.answer
	return {files: {}, figures: {}, ...a, result: a.json ? JSON.parse(a.json) : null}
}

/** Server is the native engine behind `dialwright serve`. */
class Server {
	via = "http"
	constructor({version}) { this.version = version }

	async ask(request, {signal, progress} = {}) {
		const response = await this.#fetch("ask", {method: "POST", body: JSON.stringify(request), signal})
		const lines = response.body.pipeThrough(new TextDecoderStream()).getReader()
		let text = ""
		for (;;) {
			const {done, value} = await lines.read().catch(() => { throw signal?.aborted ? aborted() : new Lost("The server ended before it answered.") })
			if (done) throw signal?.aborted ? aborted() : new Lost("The server ended before it answered.")
			text += value
			for (let end; (end = text.indexOf("\n")) >= 0; text = text.slice(end + 1)) {
				const answer = take(JSON.parse(text.slice(0, end)), progress)
				if (answer) return answer
			}
		}
	}

	async keep(name, text) {
		const response = await this.#fetch("keep", {method: "POST", body: JSON.stringify({name, text})})
		return (await response.json()).path
	}

	async kept() { return (await (await this.#fetch("kept")).json()).names }

	async #fetch(path, options = {}) {
		const headers = options.body ? {"Content-Type": "application/json"} : {}
		const response = await fetch(path, {...options, headers}).catch(() => {
			throw options.signal?.aborted ? aborted() : new Lost("The server does not answer. Is dialwright serve still running?")
		})
		if (response.status === 403) throw new Lost("The server does not know this page: open the link that dialwright serve printed.")
		if (!response.ok) throw new Refused((await response.text()).trim().split("\n"))
		return response
	}
}

/** Workers are the engine as WebAssembly: one program in each worker, compiled once. */
class Workers {
	via = "wasm"
	#module
	#idle = []
	#waiting = []
	#most
	#running = 0

	static async start({version, engine = "engine.wasm"}) {
		const w = new Workers()
		w.version = version
		w.#most = Math.max(1, Math.min(4, (navigator.hardwareConcurrency || 2) - 1))
		w.#module = await compiled(engine)
		w.#idle.push(await w.#worker())
		return w
	}

	/** worker starts a worker and waits until its program runs. */
	#worker() {
		return new Promise((resolve, reject) => {
			const worker = new Worker(new URL("worker.js", import.meta.url))
			worker.onerror = e => reject(new Lost(e.message || "The engine could not be started."))
			worker.onmessage = () => resolve(worker)
			worker.postMessage({module: this.#module})
		})
	}

	async ask(request, {signal, progress} = {}) {
		if (signal?.aborted) throw aborted()
		await this.#turn(signal)
		let worker
		try {
			worker = this.#idle.pop() ?? await this.#worker()
			return await new Promise((resolve, reject) => {
				const stop = why => {
					worker.terminate()
					worker = null
					reject(why)
				}
				if (signal?.aborted) return stop(aborted())
				signal?.addEventListener("abort", () => worker && stop(aborted()), {once: true})
				worker.onerror = e => stop(new Lost(e.message || "The engine stopped."))
				worker.onmessage = ({data}) => {
					try {
						if (data.lost) return stop(new Lost(data.lost))
						const answer = take(data, progress)
						if (answer) resolve(answer)
					} catch (refused) {
						reject(refused)
					}
				}
				worker.postMessage({ask: JSON.stringify(request)})
			})
		} finally {
			if (worker) {
				worker.onmessage = worker.onerror = null
				this.#idle.push(worker)
			}
			this.#running--
			this.#waiting.shift()?.()
		}
	}

	/** turn waits until one more worker may run. */
	async #turn(signal) {
		while (this.#running >= this.#most) {
			await new Promise(resolve => {
				this.#waiting.push(resolve)
				signal?.addEventListener("abort", resolve, {once: true})
			})
			if (signal?.aborted) throw aborted()
		}
		this.#running++
	}

	async keep() { throw new Refused(["Nothing is kept here: this page has no server. Download it instead."]) }
	async kept() { return [] }
}

/** compiled returns the program, compiled while it comes. */
async function compiled(engine) {
	const plain = await fetch(engine)
	if (!plain.ok) throw new Lost(`There is no engine beside this page (${engine}).`)
	if (plain.headers.get("Content-Type") === "application/wasm") return WebAssembly.compileStreaming(plain)
	return WebAssembly.compile(await plain.arrayBuffer())
}
