package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"io"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/batch"
	"spile/internal/ingest"
	"spile/internal/store"
	"spile/wording"
)

// Readings from a file: choose it, see what was understood, keep that. Between the steps the
// file travels in the form itself, packed: nothing of it is kept here before it is asked for,
// so that nothing is lost or half there when the server starts anew.

const (
	fromFile     = "/from-a-file"
	mostFileForm = 2 * ingest.MostBytes // a form that carries a file, packed and written in letters
	mostDrained  = 64 << 20             // that is read of a file which is too large, so that the answer is heard
	soonKnown    = 500                  // lines of which the forecast may know within a moment
	shownBad     = 30                   // rows that cannot be read, shown one by one
	chosenBatch  = "batch"
)

// readingsFile shows the page, looks at a file, or keeps what is in it.
func (s *Site) readingsFile(w http.ResponseWriter, r *http.Request) {
	f, err := s.newFileForm(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if r.Method != http.MethodPost {
		s.showFile(w, r, http.StatusOK, f)
		return
	}
	status := s.takeFile(w, r, f)
	switch {
	case status != http.StatusOK:
	case r.PostForm.Get("do") == "keep":
		status = s.keepFile(w, r, f)
	}
	if status != 0 {
		s.showFile(w, r, status, f)
	}
}

// newFileForm asks for a file and its batch.
func (s *Site) newFileForm(r *http.Request) (f *fileForm, err error) {
	f = &fileForm{Once: store.NewID(), Style: readTastes(r).Style}
	if f.batches, err = s.watch.Batches(r.Context()); err != nil {
		return nil, err
	}
	things, err := s.watch.Things(r.Context())
	if err != nil {
		return nil, err
	}
	stands := map[batch.ID]string{}
	for _, v := range things.Vessels {
		stands[v.ID] = v.Name + ": "
	}
	ask := &asking{Name: chosenBatch, Label: f.Style.Say("Which batch is it about?"), Typed: r.URL.Query().Get(chosenBatch)}
	for _, b := range f.batches {
		ask.Options = append(ask.Options, option{b.ID.String(), stands[b.Vessel] + f.Style.Say("%s, pitched %s", b.Name, dayWords(b.Pitched, f.Style))})
	}
	if len(ask.Options) == 1 {
		ask.Typed = ask.Options[0].Value
	}
	f.Fields = []*asking{{Name: "file", Label: f.Style.Say("The file"), Hint: f.Style.Say("Any CSV file of at most %d MB.", ingest.MostBytes>>20)}, ask}
	return f, nil
}

// takeFile reads what was sent, and understands the file in it. Where that cannot be, the
// reason stands beside its field.
func (s *Site) takeFile(w http.ResponseWriter, r *http.Request, f *fileForm) (status int) {
	data, status := f.read(w, r)
	if status != http.StatusOK {
		return status
	}
	if id, err := batch.ParseID(r.PostForm.Get("once")); err == nil {
		f.Once = id
	}
	ask := f.field(chosenBatch)
	ask.Typed = r.PostForm.Get(chosenBatch)
	for _, b := range f.batches {
		if b.ID.String() == ask.Typed {
			f.Of = b.ID
		}
	}
	if f.Of.IsZero() {
		ask.Typed, ask.Error = "", f.Style.Word("Choose one of these.")
		f.field("file").Error = f.Style.Word("Choose the file once more.") // no browser keeps it
	}
	if f.Bad() {
		return http.StatusUnprocessableEntity
	}
	seen, err := s.watch.See(r.Context(), f.Of)
	if err != nil {
		s.fail(w, r, err)
		return 0
	}
	f.state = &seen.State
	if err := f.understand(data, r.PostForm, s.watch.Now()); err != nil {
		f.field("file").Error, f.Name = refusedFile(f.Style.Tongue, err), ""
		return http.StatusUnprocessableEntity
	}
	return http.StatusOK
}

// refusedFile is why nothing could be made of a file, with the line where one is at fault.
func refusedFile(t *wording.Tongue, err error) string {
	var file *ingest.Unreadable
	switch {
	case !errors.As(err, &file):
		return refused(t, err)
	case file.Line > 0:
		return sentence(t.Say("line %d: %s", file.Line, file.Why))
	}
	return refused(t, file.Why)
}

// tooLarge says what is done with a file that is too large.
func (f *fileForm) tooLarge() string {
	return f.Style.Say("It is larger than %d MB, the most that is read. Cut it in two, by time.", ingest.MostBytes>>20)
}

// read takes the file: chosen just now, or packed in the form.
func (f *fileForm) read(w http.ResponseWriter, r *http.Request) (data []byte, status int) {
	file := f.field("file")
	if r.ContentLength > mostFileForm {
		file.Error = f.tooLarge()
		io.Copy(io.Discard, r.Body) //nolint:errcheck // so that the answer is heard; the guard ends it
		return nil, http.StatusRequestEntityTooLarge
	}
	r.Body = http.MaxBytesReader(w, r.Body, mostFileForm)
	err := r.ParseMultipartForm(mostFileForm)
	if errors.Is(err, http.ErrNotMultipart) { // the later steps
		err = r.ParseForm()
	}
	if err != nil {
		f.Beside = f.Style.Word("The form could not be read. Nothing was kept. Choose the file once more.")
		return nil, http.StatusBadRequest
	}
	f.Packed, f.Name = r.PostForm.Get("packed"), r.PostForm.Get("name")
	data, err = f.content(r)
	switch {
	case err != nil:
		file.Error = f.Style.Word("It did not come whole. Choose it once more.")
	case f.Packed == "" || f.Name == "":
		file.Error = f.Style.Word("Choose a file.")
	case len(data) > ingest.MostBytes:
		file.Error = f.tooLarge()
		return nil, http.StatusRequestEntityTooLarge
	}
	if file.Error != "" {
		return nil, http.StatusUnprocessableEntity
	}
	if letters := []rune(f.Name); len(letters) > 100 {
		f.Name = string(letters[:100])
	}
	return data, http.StatusOK
}

// content is what is in the file.
func (f *fileForm) content(r *http.Request) (data []byte, err error) {
	chosen, head, err := r.FormFile("file")
	switch {
	case err == nil:
		defer chosen.Close()
		f.Name = path.Base(strings.ReplaceAll(head.Filename, `\`, "/"))
		if data, err = io.ReadAll(chosen); err == nil {
			f.Packed = pack(data)
		}
		return data, err
	case f.Packed != "":
		return unpack(f.Packed)
	}
	return nil, nil // none was chosen
}

// pack writes a file in letters that a form carries as they are.
func pack(data []byte) string {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	z.Write(data) //nolint:errcheck // a buffer takes everything
	z.Close()     //nolint:errcheck // the same
	return base64.RawURLEncoding.EncodeToString(out.Bytes())
}

// unpack gives back what was packed, whole, or an error.
func unpack(text string) ([]byte, error) {
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		return nil, err
	}
	z, err := gzip.NewReader(bytes.NewReader(raw))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(z, ingest.MostBytes+1))
}

// told is what somebody chose of what a page asked; empty where it is as it was guessed.
func told(form url.Values, name string) string {
	if v := form.Get(name); v != form.Get("was-"+name) {
		return v
	}
	return ""
}

// understand reads the file as it was told to.
func (f *fileForm) understand(data []byte, form url.Values, now time.Time) (err error) {
	b := &f.state.Record.Batch
	c := ingest.Choices{Separator: told(form, "separator"), Header: told(form, "header"), Decimal: told(form, "decimal"), Order: told(form, "order")}
	guessed := ingest.ZoneOf(b)
	if f.Style.Zone != nil {
		guessed = f.Style.Zone
	}
	c.Zone = guessed
	zone := &asking{Name: "zone", Label: f.Style.Word("Zone of these times"), Typed: form.Get("zone"), Hint: f.Style.Word("For example Europe/London, or +01:00. Where summer time begins or ends, a city is needed.")}
	if text := told(form, "zone"); text != "" {
		f.toldZone = true
		if c.Zone, err = ingest.ParseZone(text); err != nil {
			c.Zone, zone.Error = guessed, refused(f.Style.Tongue, err)
		}
	}
	for i := 1; form.Has("column-" + strconv.Itoa(i)); i++ {
		c.Columns = append(c.Columns, told(form, "column-"+strconv.Itoa(i)))
	}
	if f.Read, err = ingest.Understand(f.Name, data, b, c, now); err != nil {
		return err
	}
	if zone.Error == "" {
		zone.Typed = ingest.ZoneName(f.Read.Zone)
	}
	f.Fresh = f.Read.Found.Unknown(f.state)
	if n := f.Read.Found.Count() - f.Fresh.Count(); n > 0 {
		f.Known = linesWords(n, f.Style.Tongue)
	}
	f.Without = form.Get("without") != ""
	f.ask(c, zone)
	return nil
}

// unanswered puts what must be told first beside its question.
func (f *fileForm) unanswered() {
	for _, a := range slices.Concat(f.Columns, f.About) {
		if a.Ask != "" {
			a.Error = a.Ask
		}
	}
	for _, a := range f.Read.Asks {
		if a.Of == "columns" {
			f.Beside = f.Style.Say(a.Says.English, a.Says.Slots...)
		}
	}
}

// keepFile keeps what was understood, where nothing is left to be asked and all of it was shown.
func (s *Site) keepFile(w http.ResponseWriter, r *http.Request, f *fileForm) (status int) {
	id := f.importID(r.PostForm.Get("shown"))
	switch _, err := ingest.Find(r.Context(), s.watch.Store(), id); {
	case err == nil: // sent twice
		http.Redirect(w, r, fromFile+"/"+id.String(), http.StatusSeeOther)
		return 0
	case !errors.Is(err, ingest.ErrNoImport):
		s.fail(w, r, err)
		return 0
	}
	if f.amiss(r.PostForm.Get("shown")); f.Bad() {
		return http.StatusUnprocessableEntity
	}
	first := batch.Entry{ID: id, Batch: f.Of, Made: s.watch.Now()}
	entries, err := ingest.Entries(f.Fresh, first, f.Name, store.NewID)
	if err == nil {
		_, err = s.watch.Keep(r.Context(), signed(r.Context(), entries)...)
	}
	var fault *store.Fault
	switch {
	case errors.Is(err, store.ErrOther): // sent twice at the same moment
	case errors.As(err, &fault): // a full disk: what was chosen stays on the page
		s.log.Error("keeping", "err", err)
		f.Beside = fault.Sentence
		return http.StatusInsufficientStorage
	case err != nil:
		s.fail(w, r, err)
		return 0
	}
	if len(entries) < soonKnown {
		s.settle(r.Context(), entries[:1])
	}
	http.Redirect(w, r, fromFile+"/"+id.String(), http.StatusSeeOther)
	return 0
}

// importID is the id of what is kept: the same for the same form with the same choices, another
// one where somebody went back and chose otherwise.
func (f *fileForm) importID(shown string) batch.ID {
	sum := sha256.Sum256([]byte(f.Once.String() + f.Of.String() + shown + f.Packed))
	return batch.NewID(f.Once.Time(), [10]byte(sum[:10]))
}

// amiss says why nothing can be kept yet.
func (f *fileForm) amiss(shown string) {
	switch {
	case f.Bad():
	case !f.Read.Sure():
		f.unanswered()
	case shown != f.Shown():
		f.Beside = f.Style.Word("Something was changed since this was shown. Look at it once more, then keep it.")
	case len(f.Read.Bad) > 0 && !f.Without:
		f.Beside = f.Style.Word("Some rows cannot be read. Mend them in the file, or tick that the others are kept without them.")
	case f.Fresh.Count() == 0:
		f.Beside = f.Style.Word("There is nothing to keep: all of it is there already, or cannot be read.")
	}
}

// showFile shows the page.
func (s *Site) showFile(w http.ResponseWriter, r *http.Request, status int, f *fileForm) {
	p := page{Title: "Readings from a file", Here: "/", Content: f}
	if f.Bad() {
		p.Bad = true
		if status == http.StatusOK {
			status = http.StatusUnprocessableEntity
		}
	}
	s.show(w, r, status, "from-a-file", p)
}
