#include "textflag.h"

// Sixteen words of ones, then sixteen of noughts: from the r-th before the middle on, they let r elements through.
DATA letThrough<>+0x00(SB)/8, $-1
DATA letThrough<>+0x08(SB)/8, $-1
DATA letThrough<>+0x10(SB)/8, $-1
DATA letThrough<>+0x18(SB)/8, $-1
DATA letThrough<>+0x20(SB)/8, $-1
DATA letThrough<>+0x28(SB)/8, $-1
DATA letThrough<>+0x30(SB)/8, $-1
DATA letThrough<>+0x38(SB)/8, $-1
DATA letThrough<>+0x40(SB)/8, $-1
DATA letThrough<>+0x48(SB)/8, $-1
DATA letThrough<>+0x50(SB)/8, $-1
DATA letThrough<>+0x58(SB)/8, $-1
DATA letThrough<>+0x60(SB)/8, $-1
DATA letThrough<>+0x68(SB)/8, $-1
DATA letThrough<>+0x70(SB)/8, $-1
DATA letThrough<>+0x78(SB)/8, $-1
GLOBL letThrough<>(SB), RODATA|NOPTR, $256

// func addRowsWide(y, times, rows *float64, m, n, stride int)
//
// A product is rounded before it is added (no fused multiply-add), as the plain form does.
TEXT ·addRowsWide(SB), NOSPLIT, $0-48
	MOVQ y+0(FP), DI
	MOVQ rows+16(FP), SI
	MOVQ m+24(FP), R8
	MOVQ stride+40(FP), R10
	SHLQ $3, R10 // bytes from row to row

sixteen:
	CMPQ R8, $16
	JLT  rest
	MOVQ SI, R11
	MOVQ times+8(FP), R12
	MOVQ n+32(FP), CX
	VMOVUPD (DI), Y0
	VMOVUPD 32(DI), Y1
	VMOVUPD 64(DI), Y2
	VMOVUPD 96(DI), Y3

row:
	VBROADCASTSD (R12), Y4
	VMULPD (R11), Y4, Y5
	VMULPD 32(R11), Y4, Y6
	VMULPD 64(R11), Y4, Y7
	VMULPD 96(R11), Y4, Y8
	VADDPD Y5, Y0, Y0
	VADDPD Y6, Y1, Y1
	VADDPD Y7, Y2, Y2
	VADDPD Y8, Y3, Y3
	ADDQ $8, R12
	ADDQ R10, R11
	DECQ CX
	JNZ  row
	VMOVUPD Y0, (DI)
	VMOVUPD Y1, 32(DI)
	VMOVUPD Y2, 64(DI)
	VMOVUPD Y3, 96(DI)
	ADDQ $128, SI
	ADDQ $128, DI
	SUBQ $16, R8
	JMP  sixteen

rest: // fewer than sixteen: what lies beyond is neither read nor written
	TESTQ R8, R8
	JZ   done
	LEAQ letThrough<>+128(SB), R13
	SHLQ $3, R8
	SUBQ R8, R13
	VMOVUPD (R13), Y9
	VMOVUPD 32(R13), Y10
	VMOVUPD 64(R13), Y11
	VMOVUPD 96(R13), Y12
	MOVQ SI, R11
	MOVQ times+8(FP), R12
	MOVQ n+32(FP), CX
	VMASKMOVPD (DI), Y9, Y0
	VMASKMOVPD 32(DI), Y10, Y1
	VMASKMOVPD 64(DI), Y11, Y2
	VMASKMOVPD 96(DI), Y12, Y3

restRow:
	VBROADCASTSD (R12), Y4
	VMASKMOVPD (R11), Y9, Y5
	VMASKMOVPD 32(R11), Y10, Y6
	VMASKMOVPD 64(R11), Y11, Y7
	VMASKMOVPD 96(R11), Y12, Y8
	VMULPD Y5, Y4, Y5
	VMULPD Y6, Y4, Y6
	VMULPD Y7, Y4, Y7
	VMULPD Y8, Y4, Y8
	VADDPD Y5, Y0, Y0
	VADDPD Y6, Y1, Y1
	VADDPD Y7, Y2, Y2
	VADDPD Y8, Y3, Y3
	ADDQ $8, R12
	ADDQ R10, R11
	DECQ CX
	JNZ  restRow
	VMASKMOVPD Y0, Y9, (DI)
	VMASKMOVPD Y1, Y10, 32(DI)
	VMASKMOVPD Y2, Y11, 64(DI)
	VMASKMOVPD Y3, Y12, 96(DI)

done:
	VZEROUPPER
	RET

// func addRowsWidest(y, times, rows *float64, m, n, stride int)
//
// The same on registers twice as wide, thirty-two sums side by side; K1 to K4 let through what is left of them.
TEXT ·addRowsWidest(SB), NOSPLIT, $0-48
	MOVQ y+0(FP), DI
	MOVQ rows+16(FP), SI
	MOVQ m+24(FP), R8
	MOVQ stride+40(FP), R10
	SHLQ $3, R10 // bytes from row to row

most:
	MOVQ $32, CX
	CMPQ R8, CX
	CMOVQLT R8, CX
	MOVQ $1, BX
	SHLQ CX, BX
	DECQ BX
	KMOVW BX, K1
	SHRQ $8, BX
	KMOVW BX, K2
	SHRQ $8, BX
	KMOVW BX, K3
	SHRQ $8, BX
	KMOVW BX, K4
	MOVQ SI, R11
	MOVQ times+8(FP), R12
	MOVQ n+32(FP), CX
	VMOVUPD.Z (DI), K1, Z0
	VMOVUPD.Z 64(DI), K2, Z1
	CMPQ R8, $16
	JLE  half
	VMOVUPD.Z 128(DI), K3, Z2
	VMOVUPD.Z 192(DI), K4, Z3

row:
	VBROADCASTSD (R12), Z4
	VMULPD.Z (R11), Z4, K1, Z5
	VMULPD.Z 64(R11), Z4, K2, Z6
	VMULPD.Z 128(R11), Z4, K3, Z7
	VMULPD.Z 192(R11), Z4, K4, Z8
	VADDPD Z5, Z0, Z0
	VADDPD Z6, Z1, Z1
	VADDPD Z7, Z2, Z2
	VADDPD Z8, Z3, Z3
	ADDQ $8, R12
	ADDQ R10, R11
	DECQ CX
	JNZ  row
	VMOVUPD Z2, K3, 128(DI)
	VMOVUPD Z3, K4, 192(DI)
	JMP  keep

half: // sixteen sums or fewer
	VBROADCASTSD (R12), Z4
	VMULPD.Z (R11), Z4, K1, Z5
	VMULPD.Z 64(R11), Z4, K2, Z6
	VADDPD Z5, Z0, Z0
	VADDPD Z6, Z1, Z1
	ADDQ $8, R12
	ADDQ R10, R11
	DECQ CX
	JNZ  half

keep:
	VMOVUPD Z0, K1, (DI)
	VMOVUPD Z1, K2, 64(DI)
	ADDQ $256, SI
	ADDQ $256, DI
	SUBQ $32, R8
	JG   most
	VZEROUPPER
	RET
