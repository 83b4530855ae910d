/* ProcessPrng of bcryptprimitives.dll, which Go's runtime calls and Debian's wine
   lacks, from RtlGenRandom. Only for .ci/windows. */
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID, ULONG); /* RtlGenRandom */

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE into, SIZE_T n)
{
	return SystemFunction036(into, (ULONG)n);
}
