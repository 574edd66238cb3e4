package web

import (
	"fmt"
	"html/template"
	"net/http"
	"net/netip"
	"strings"

	"spile/wording"

	"github.com/yeqown/go-qrcode/v2"
)

// quiet zone around a QR code, in modules (ISO/IEC 18004, clause 6.3.8).
const qrMargin = 4

// modules takes the pattern of a QR code.
type modules struct{ dark [][]bool }

// Write takes the pattern.
func (m *modules) Write(mat qrcode.Matrix) error {
	m.dark = mat.Bitmap()
	return nil
}

// Close has nothing to do.
func (m *modules) Close() error { return nil }

// qrModules is the pattern of a text, with its quiet zone: rows of modules, true for dark.
func qrModules(text string) ([][]bool, error) {
	code, err := qrcode.NewWith(text, qrcode.WithErrorCorrectionLevel(qrcode.ErrorCorrectionMedium))
	if err != nil {
		return nil, fmt.Errorf("a QR code of %q: %w", text, err)
	}
	var m modules
	if err := code.Save(&m); err != nil {
		return nil, err
	}
	side := len(m.dark) + 2*qrMargin
	out := make([][]bool, side)
	for y := range out {
		out[y] = make([]bool, side)
	}
	for y, row := range m.dark {
		copy(out[y+qrMargin][qrMargin:], row)
	}
	return out, nil
}

// QRText draws a QR code for a terminal, two rows of modules in one line: dark ink on a
// light ground, whatever the colours of the terminal.
func QRText(text string) (string, error) {
	dark, err := qrModules(text)
	if err != nil {
		return "", err
	}
	at := func(y, x int) bool { return y < len(dark) && dark[y][x] }
	var b strings.Builder
	for y := 0; y < len(dark); y += 2 {
		b.WriteString("\x1b[30;107m")
		for x := range dark[y] {
			b.WriteString(map[[2]bool]string{{false, false}: " ", {true, false}: "▀", {false, true}: "▄", {true, true}: "█"}[[2]bool{at(y, x), at(y+1, x)}])
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String(), nil
}

// qrDrawing is a QR code as a drawing within a page, said aloud as told.
func qrDrawing(text, says string) (template.HTML, error) {
	dark, err := qrModules(text)
	if err != nil {
		return "", err
	}
	var path strings.Builder
	for y, row := range dark {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	return template.HTML(fmt.Sprintf(`<svg class="qr" viewBox="0 0 %d %d" role="img" aria-label="%s"><path d="%s"/></svg>`,
		len(dark), len(dark), template.HTMLEscapeString(says), path.String())), nil
}

// opens is the square of an address.
func opens(address string, t *wording.Tongue) (template.HTML, error) {
	return qrDrawing(address, t.Say("A square to photograph: it opens %s", address))
}

// opening is an address with its square.
type opening struct {
	Address string
	Drawing template.HTML
}

// squares draws a square for each address.
func squares(addresses []string, t *wording.Tongue) (out []opening, err error) {
	for _, address := range addresses {
		drawing, err := opens(address, t)
		if err != nil {
			return nil, err
		}
		out = append(out, opening{address, drawing})
	}
	return out, nil
}

// base is the address of this server as others in the network reach it, where it is open to them.
func (s *Site) base(r *http.Request) string {
	if s.beyond != nil && len(s.beyond.Open) > 0 {
		return s.beyond.Open[0]
	}
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// opensBeyond is the command that opens this to others.
const opensBeyond = "spile serve --listen 0.0.0.0:8417"

// phoneView is how to reach this from a phone.
type phoneView struct {
	Open    []opening
	Command string // that opens it, where it is not open
	Secure  bool   // over https too
	Secured string // the command that does that, where it is not
}

// phone shows the square that opens this on a phone.
func (s *Site) phone(w http.ResponseWriter, r *http.Request) {
	v := phoneView{Command: opensBeyond, Secure: s.secure != nil}
	if s.beyond != nil {
		var err error
		if v.Open, err = squares(s.beyond.Open, tongueOf(r)); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	if _, err := netip.ParseAddrPort(r.Host); err == nil && r.TLS == nil {
		v.Command = strings.Replace(v.Command, "8417", r.Host[strings.LastIndex(r.Host, ":")+1:], 1)
	}
	v.Secured = v.Command + secured
	s.show(w, r, http.StatusOK, "phone", page{Title: "Use it on my phone", Here: "/settings", Content: &v})
}
