// Finds certificate.json among the files attached to a PDF (ISO 32000-2, 7.11.4), whatever the page
// shows. Every version of every object is looked at; two different attachments of that name are
// refused, since it would not be clear which one a reader of the paper was meant to get.

const latin1 = (bytes) => new TextDecoder("latin1").decode(bytes);

async function inflate(bytes) {
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
    const reader = stream.getReader(), parts = [];
    let size = 0;
    try {
        for (;;) {
            const { done, value } = await reader.read();
            if (done)
                break;
            size += value.length;
            need(size <= SIZE_MAX, "refusedForm", "refused");
            parts.push(value);
        }
    } catch (error) {
        throw error instanceof Bad ? error : new Bad("refused", "pdfPacked");
    }
    return joined(...parts);
}

class Pdf {
    constructor(bytes) {
        this.bytes = bytes;
        this.text = latin1(bytes);
        this.objects = []; // { number, dict, start: of the stream's bytes, or null }
        const pattern = /(?:^|[\s>])(\d{1,10})\s+(\d{1,5})\s+obj\b/g;
        for (let found = pattern.exec(this.text); found; found = pattern.exec(this.text)) {
            const start = pattern.lastIndex, end = this.text.indexOf("endobj", start);
            const stream = /stream\r?\n/.exec(this.text.slice(start, start + 65536));
            const within = stream && (end < 0 || start + stream.index < end);
            this.objects.push({ number: Number(found[1]),
                dict: this.text.slice(start, within ? start + stream.index
                    : end < 0 ? undefined : end),
                start: within ? start + stream.index + stream[0].length : null });
        }
    }

    versions(number) {
        return this.objects.filter((object) => object.number === number);
    }

    async content(object) {
        const length = /\/Length\s+(\d+)(\s+\d+\s+R)?/.exec(object.dict);
        need(length, "pdfPacked", "refused");
        const value = length[2] ? Number((this.versions(Number(length[1])).pop() || {}).dict)
            : Number(length[1]);
        const raw = this.bytes.subarray(object.start, object.start + value);
        need(raw.length === value, "pdfPacked", "refused");
        const filter = /\/Filter\s*\[?\s*\/(\w+)/.exec(object.dict);
        need(!filter || filter[1] === "FlateDecode", "pdfPacked", "refused");
        return filter ? inflate(raw) : raw.slice();
    }

    // Objects that stand packed together inside streams.
    async unpack() {
        for (const object of this.objects.filter((o) => o.start !== null
            && /\/Type\s*\/ObjStm\b/.test(o.dict))) {
            const text = latin1(await this.content(object));
            const first = Number((/\/First\s+(\d+)/.exec(object.dict) || [])[1]);
            const head = text.slice(0, first).trim().split(/\s+/).map(Number);
            for (let i = 0; i + 1 < head.length; i += 2)
                this.objects.push({ number: head[i], start: null, dict: text.slice(
                    first + head[i + 1], i + 3 < head.length ? first + head[i + 3] : undefined) });
        }
    }

    async attachment(name) {
        need(!/\/Encrypt\s+\d+\s+\d+\s+R/.test(this.text), "pdfEncrypted", "refused");
        await this.unpack();
        const wide = "FEFF" + Array.from(name, (c) => c.charCodeAt(0).toString(16).padStart(4, "0"))
            .join("").toUpperCase();
        const plain = name.replace(/\./g, "\\.");
        const pattern = new RegExp("/U?F\\s*(?:\\(" + plain + "\\)|<" + wide + ">|<"
            + hex(ascii(name)) + ">|\\(\\u00fe\\u00ff" + Array.from(plain.replace(/\\/g, ""),
                (c) => "\\u0000" + (c === "." ? "\\." : c)).join("") + "\\))", "i");
        const found = [];
        for (const object of this.objects.filter((o) => o.dict && pattern.test(o.dict))) {
            const file = /\/EF\s*<<[^>]*?\/U?F\s+(\d+)\s+\d+\s+R/.exec(object.dict)
                || /\/EF\s+(\d+)\s+\d+\s+R/.exec(object.dict);
            for (const version of file ? this.versions(Number(file[1])) : [])
                if (version.start !== null)
                    found.push(await this.content(version));
                else
                    found.push(...await this.inDictionary(version));
        }
        need(found.length, "pdfNone", "refused");
        need(found.every((one) => same(one, found[0])), "pdfTwo", "refused");
        return found[0];
    }

    // The dictionary of an /EF that is an object of its own.
    async inDictionary(object) {
        const file = /\/U?F\s+(\d+)\s+\d+\s+R/.exec(object.dict);
        const streams = file ? this.versions(Number(file[1])).filter((o) => o.start !== null) : [];
        return Promise.all(streams.map((stream) => this.content(stream)));
    }
}

// The bytes of the certificate in a file that a person chose, and on what it was printed.
async function certificateIn(bytes) {
    const head = latin1(bytes.subarray(0, 1024));
    if (head.includes("%PDF-"))
        return { bytes: await new Pdf(bytes).attachment("certificate.json"), on: "paper" };
    if (/^[\s\u00ef\u00bb\u00bf]*</.test(head)) {
        const page = new DOMParser().parseFromString(new TextDecoder().decode(bytes), "text/html");
        const found = page.querySelectorAll('script[type="application/json"][id="certificate"]');
        need(found.length === 1, "pageNone", "refused");
        return { bytes: ascii(found[0].textContent), on: "page" };
    }
    return { bytes, on: "file" };
}
