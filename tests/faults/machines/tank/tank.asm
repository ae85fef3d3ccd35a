; Fish tank alarm, Tidewater field station, on an MC6809.
;
; NMI is a tick of 100 Hz that starts a conversion; FIRQ is its end; IRQ is the key that silences the horn. A step of the
; converter is 20 mV, four steps are a degree.

        cpu     mc6809

PORTA   equ     $A000   ; not used; a read clears the key's flag
CRA     equ     $A001   ; CA1: the key
PORTB   equ     $A002   ; 0-3 ones, 4-7 tens
CRB     equ     $A003
ADC     equ     $A010   ; a store starts, a load fetches
LAMPS   equ     $A020   ; low: lit

HOT     equ     $01
COLD    equ     $02
HORN    equ     $04
NONE    equ     HOT+COLD+HORN
TOOHOT  equ     30      ; degrees
TOOCOLD equ     18

        org     $0100
reading rmb     1               ; the latest code
fresh   rmb     1               ; it has not been shown yet
degrees rmb     1
count   rmb     1
was     rmb     1               ; there was trouble the last time
horn    rmb     1               ; nobody has silenced it yet

        org     $F000
start   lds     #$0800
        lda     #$01
        tfr     a,dp
        setdp   $01
        clr     fresh
        clr     was
        clr     horn
        lda     #NONE
        sta     LAMPS
        clr     CRB             ; data direction registers selected
        lda     #$FF
        sta     PORTB           ; port B: outputs
        lda     #$04
        sta     CRB
        lda     #$05            ; the fall of CA1 interrupts
        sta     CRA

loop    cwai    #$AF            ; F = I = 0
        lda     fresh
        beq     loop
        clr     fresh
        lda     reading
        lsra
        lsra
        sta     degrees
        bsr     decimal
        sta     PORTB

        ldb     #NONE
        lda     degrees
        cmpa    #TOOHOT
        blo     nothot
        andb    #NONE-HOT
nothot  cmpa    #TOOCOLD
        bhs     notcold
        andb    #NONE-COLD
notcold cmpb    #NONE
        beq     calm
        lda     #1
        tst     was
        bne     known
        sta     horn            ; new trouble
known   sta     was
        bra     light
calm    clr     was
        clr     horn
light   tst     horn
        beq     quiet
        andb    #NONE-HORN
quiet   stb     LAMPS
        bra     loop

; Makes two decimal digits of A.
decimal sta     count
        clra
more    tst     count
        beq     done
        adda    #1
        daa
        dec     count
        bra     more
done    rts

; End of conversion.
convert pshs    a
        lda     ADC
        sta     reading
        inc     fresh
        puls    a
        rti

; 100 times a second.
tick    sta     ADC
        rti

; The key.
silence lda     PORTA           ; clears the flag
        clr     horn
        rti

; Nothing else should interrupt.
astray  bra     astray

        org     $FFF2
        fdb     astray          ; SWI3
        fdb     astray          ; SWI2
        fdb     convert         ; FIRQ
        fdb     silence         ; IRQ
        fdb     astray          ; SWI
        fdb     tick            ; NMI
        fdb     start           ; RESET
